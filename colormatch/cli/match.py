"""``colormatch match``: write all tiles in one true colour."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from colormatch.cli import options
from colormatch.cli.progress import TerminalProgress
from colormatch.cli.show import show


@click.command("match", short_help="Write the scans in one true colour.")
@options.scans
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Folder for the matched tiles; never the scans' own.",
)
@options.measuring
@options.writing
@click.option(
    "--format",
    "file_format",
    type=click.Choice(["tiff", "png", "jpeg"]),
    default="tiff",
    show_default=True,
    help="File format.",
)
@click.option(
    "--scanner-profiles",
    is_flag=True,
    help="Also write each tile's ICC input profile, for use in other programs.",
)
@options.logging
@options.report
@options.force
@options.as_json
def command(scans: tuple[Path, ...], as_json: bool, file_format: str, **given: Any) -> int:
    """Write every scan in one true colour: same pixels, ready for print.

    One file per scan, with the scan's name, goes into the folder given by
    --out. Either all scans can be processed or nothing is written.
    """
    from colormatch.job.matching import match
    from colormatch.job.options import MatchOptions

    log = options.log_options(given, scans)
    chosen = MatchOptions(**options.chosen({**given, "format": file_format}))
    progress = TerminalProgress()
    try:
        report = match(scans, chosen, progress=progress)
    finally:
        progress.end()
    return show(report, as_json=as_json, log=log)
