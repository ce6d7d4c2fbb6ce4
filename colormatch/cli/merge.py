"""``colormatch merge``: one picture from many tiles."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import click

from colormatch.cli import options
from colormatch.cli.lengths import Measures
from colormatch.cli.progress import TerminalProgress
from colormatch.cli.show import show


class Cells(click.ParamType[tuple[int, int]]):
    """Columns and rows: ``2x2``."""

    name = "cells"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, int]:
        """Read columns and rows."""
        match = re.fullmatch(r"([1-9]\d?)x([1-9]\d?)", str(value).strip().lower())
        if match is None:
            self.fail(f"{value!r} is no order: write columns x rows, like 2x3", param, ctx)
        return int(match[1]), int(match[2])


@click.command("merge", short_help="Join the scans to one picture.")
@options.scans
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The joined picture; its ending tells the format (.tif, .png, .jpg).",
)
@options.measuring
@options.writing
@click.option(
    "--blank",
    type=click.Path(path_type=Path),
    metavar="SCAN",
    help="Scan of plain white paper over the whole glass, same settings.",
)
@click.option(
    "--sheet",
    type=Measures(2, bare="mm"),
    metavar="WIDTHxHEIGHT",
    help="True size of the painting, like 300x400mm, to check the picture's scale by.",
)
@click.option(
    "--keep",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Regions (TOML): places to take from one tile, boxes no seam may cross.",
)
@click.option(
    "--order",
    type=Cells(),
    metavar="COLUMNSxROWS",
    help="How the tiles lie, given row by row; used only where their pictures do not tell.",
)
@click.option(
    "--wrap",
    type=Measures(1, bare="mm"),
    default="0mm",
    metavar="WIDTH",
    help="Margin of mirrored edges, like 40mm, for canvas wraps.",
)
@click.option(
    "--maps",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Also draw where the seams run and what levelling did.",
)
@click.option(
    "--tiles-too",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Also write the matched and levelled tiles.",
)
@options.logging
@options.report
@options.force
@options.as_json
def command(scans: tuple[Path, ...], as_json: bool, **given: Any) -> int:
    """Do everything: check, match, level, place, join, trim and write one picture.

    Scans may come in any order and at any quarter turn; which lie beside
    which is found. Keep the scans: they are the originals.
    """
    from colormatch.job.merging import merge
    from colormatch.job.options import MergeOptions

    log = options.log_options(given, scans)
    given["wrap"] = given["wrap"][0]
    given["format"] = options.format_of(given["out"])
    chosen = MergeOptions(**options.chosen(given))
    progress = TerminalProgress()
    try:
        report = merge(scans, chosen, progress=progress)
    finally:
        progress.end()
    return show(report, as_json=as_json, log=log)
