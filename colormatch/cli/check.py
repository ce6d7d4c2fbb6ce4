"""``colormatch check``: whether these scans can be used."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from colormatch.cli import options
from colormatch.cli.progress import TerminalProgress
from colormatch.cli.show import show


@click.command("check", short_help="Tell for every scan whether it can be used.")
@options.scans
@options.measuring
@options.logging
@options.report
@options.force
@options.as_json
def command(
    scans: tuple[Path, ...],
    as_json: bool,
    **given: Any,
) -> int:
    """Tell for every scan whether it can be used, and what to change if not.

    Run it after each scan, while the painting still lies there. Give all tiles
    scanned so far: tiles that differ from one another are then named.
    """
    from colormatch.job.checking import check
    from colormatch.job.options import CheckOptions

    if given["force"] and given["report"] is None:
        raise click.UsageError("--force replaces a report: give --report FOLDER with it")
    log = options.log_options(given, scans)
    progress = TerminalProgress()
    try:
        report = check(scans, CheckOptions(**given), progress=progress)
    finally:
        progress.end()
    return show(report, as_json=as_json, log=log)
