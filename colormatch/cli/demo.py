"""``colormatch demo``: an invented painting, scanned and matched."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import click

from colormatch.cli import options
from colormatch.cli.progress import TerminalProgress
from colormatch.cli.show import show


@click.command("demo", short_help="Try it all on an invented painting.")
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option(
    "--scene",
    default="two-tiles",
    show_default=True,
    metavar="NAME",
    help="two-tiles, dark-oil, fluorescent, three-led, four-tiles or turned.",
)
@click.option(
    "--ppi",
    type=click.IntRange(100, 600),
    default=200,
    show_default=True,
    help="Resolution of the scans; 600 takes minutes.",
)
@click.option(
    "--swatches",
    is_flag=True,
    help="Also scan a sheet of 24 of the painter's own paints, and use it.",
)
@options.force
def command(folder: Path, scene: str, ppi: int, swatches: bool, force: bool) -> int:
    """Draw and scan an invented painting, then do the whole job on its files.

    Leaves in FOLDER the strip to print (strip), the scans with the strip's
    measured values (scans), the matched tiles (matched), the joined picture
    (painting.tif), maps of its seams and of the levelling (maps) and the report
    (report.html, report.txt, report.json), as a user would have them.
    """
    from colormatch.job.demo import run_demo

    # The demo is no part of the tool: it is found by name, and only here.
    draw = import_module("colormatch.demo.run").draw
    progress = TerminalProgress()
    try:
        report = run_demo(
            folder, draw, scene=scene, ppi=ppi, swatches=swatches, force=force, progress=progress
        )
    finally:
        progress.end()
    return show(report, as_json=False)
