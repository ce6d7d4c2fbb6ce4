"""``colormatch check``: whether these scans can be used."""

from __future__ import annotations

from pathlib import Path

import click

from colormatch.cli import options
from colormatch.cli.progress import TerminalProgress
from colormatch.cli.show import show


@click.command("check", short_help="Tell for every scan whether it can be used.")
@options.scans
@options.measuring
@options.as_json
def command(
    scans: tuple[Path, ...],
    reference: Path | None,
    layout: Path | None,
    tolerance: str,
    as_json: bool,
) -> int:
    """Tell for every scan whether it can be used, and what to change if not.

    Run it after each scan, while the painting still lies there. Give all tiles
    scanned so far: tiles that differ from one another are then named.
    """
    from colormatch.job import CheckOptions, check

    progress = TerminalProgress()
    try:
        report = check(
            scans,
            CheckOptions(reference=reference, layout=layout, tolerance=tolerance),
            progress=progress,
        )
    finally:
        progress.end()
    return show(report, as_json=as_json)
