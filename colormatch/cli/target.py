"""``colormatch target``: the strip to print."""

from __future__ import annotations

from pathlib import Path

import click

from colormatch.cli import options
from colormatch.cli.status import Status


@click.command("target", short_help="Write the strip to print.")
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option(
    "--length",
    type=click.Choice(["long", "short"]),
    default="long",
    show_default=True,
    help="long: 180 mm; short: for narrow margins of glass.",
)
@click.option(
    "--serial",
    default="",
    metavar="SERIAL",
    help="Serial of the page, such as 7F3-K2, to write a page again.  [default: by lot]",
)
@click.option(
    "--swatches",
    type=click.IntRange(6, 60),
    metavar="N",
    help="Also write a sheet of N empty boxes for your own paints, 6 to 60; 24 do well.",
)
@options.force
def command(folder: Path, length: str, serial: str, swatches: int | None, force: bool) -> int:
    """Write the strip to print, with its layout and its nominal colours.

    Each strip bears a symbol with its serial, by which its values are found again.
    Print strip.pdf at 100 %, without scaling, on matt paper free of optical
    brightener; let it dry for a day. Have it measured if you can.

    With --swatches also swatches.pdf, to be painted, and swatches.csv, to be
    filled in with the measured colours of the paints.
    """
    from colormatch.job.target import write_target

    written = write_target(folder, length, serial=serial, swatches=swatches, force=force)
    for path in written:
        click.echo(path)
    return Status.DONE
