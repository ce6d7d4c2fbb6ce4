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
@click.option(
    "--space",
    type=click.Choice(["srgb", "oprgb"]),
    default="srgb",
    show_default=True,
    help="Colour space; oprgb is compatible with Adobe RGB (1998).",
)
@click.option(
    "--format",
    "file_format",
    type=click.Choice(["tiff", "png", "jpeg"]),
    default="tiff",
    show_default=True,
    help="File format.",
)
@click.option(
    "--bits",
    type=click.Choice(["8", "16"]),
    help="Bits per channel.  [default: 16; jpeg: 8]",
)
@click.option(
    "--compression",
    type=click.Choice(["deflate", "lzw", "none"]),
    default="deflate",
    show_default=True,
    help="How a TIFF is packed, always without loss.",
)
@click.option(
    "--icc-version",
    type=click.Choice(["2", "4"]),
    default="4",
    show_default=True,
    help="Version of the embedded profile; 2 for old software.",
)
@click.option("--title", default="", help="Title to write into the files.")
@click.option("--creator", default="", help="Who made the painting.")
@click.option("--copyright", default="", help="Copyright notice to write into the files.")
@click.option(
    "--scanner-profiles",
    is_flag=True,
    help="Also write each tile's ICC input profile, for use in other programs.",
)
@options.force
@options.as_json
def command(
    scans: tuple[Path, ...], bits: str | None, icc_version: str, as_json: bool, **given: Any
) -> int:
    """Write every scan in one true colour: same pixels, ready for print.

    One file per scan, with the scan's name, goes into the folder given by
    --out. Either all scans can be processed or nothing is written.
    """
    from colormatch.job import MatchOptions, match

    file_format = given.pop("file_format")
    if file_format == "jpeg" and bits == "16":
        raise click.UsageError("JPEG holds 8 bits: leave --bits out, or choose tiff or png")
    chosen = MatchOptions(
        format=file_format,
        bits=None if bits is None else int(bits),
        icc_version=int(icc_version),
        **given,
    )
    progress = TerminalProgress()
    try:
        report = match(scans, chosen, progress=progress)
    finally:
        progress.end()
    return show(report, as_json=as_json)
