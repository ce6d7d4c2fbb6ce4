"""``colormatch transfer``: values for a strip without an instrument."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from colormatch.cli import options
from colormatch.cli.progress import TerminalProgress
from colormatch.cli.status import Status


@click.command("transfer", short_help="Carry known values over to a strip, by scanning both.")
@options.scans
@click.option(
    "--known",
    required=True,
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Measured values of the known sheet; repeat it to average several files.",
)
@click.option(
    "--layout",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Design of the known sheet: a file (TOML), or iso-12641-1; left out for our own.",
)
@click.option(
    "--known-at",
    type=click.Choice(["left", "right", "top", "bottom"]),
    help="Where in the scans the known sheet lies, if design and serial do not tell.",
)
@click.option(
    "--other-ink",
    is_flag=True,
    help="The sheets were printed with different kinds of ink: less is carried over.",
)
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="File for the values (ISO 28178 text), to be given as --reference.",
)
@options.force
@options.as_json
def command(scans: tuple[Path, ...], known_at: str | None, as_json: bool, **given: Any) -> int:
    """Write values for a strip from a known sheet that lies beside it on the glass.

    Lay the sheet whose values are known and your strip side by side, scan both
    at once, move them and scan again: two or three scans average out. Good for
    sheets printed with ink of the same kind; each patch gets an uncertainty.
    """
    from colormatch.job.options import TransferOptions
    from colormatch.job.transfer import transfer
    from colormatch.reporting.plain_json import plain_json
    from colormatch.reporting.transfer_text import transfer_text

    progress = TerminalProgress()
    try:
        chosen = TransferOptions(known_at=known_at or "", **given)
        report = transfer(scans, chosen, progress=progress)
    finally:
        progress.end()
    click.echo(plain_json(report) if as_json else transfer_text(report))
    return Status.DONE
