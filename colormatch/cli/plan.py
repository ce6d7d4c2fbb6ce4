"""``colormatch plan``: how many scans, how they lie, what they cost."""

from __future__ import annotations

from pathlib import Path

import click

from colormatch.cli import options
from colormatch.cli.lengths import Measures
from colormatch.cli.status import Status
from colormatch.plans import Frame, Wish


@click.command("plan", short_help="Tell how to scan a painting, before the first scan.")
@click.option(
    "--painting",
    type=Measures(2),
    required=True,
    metavar="WIDTHxHEIGHT",
    help="Size of the painted face, upright, with its unit: 500x700mm, 50x70cm, 20x28in.",
)
@click.option(
    "--glass",
    type=Measures(2),
    default="216x297mm",
    show_default=True,
    metavar="WIDTHxHEIGHT",
    help="What the scanner sees: along the lamp, then along the carriage's way.",
)
@click.option(
    "--clear",
    type=Measures(1),
    default="25mm",
    show_default=True,
    metavar="LENGTH",
    help="Start of the glass to keep clear; 0mm if the scanner's maker asks for none.",
)
@click.option(
    "--overlap",
    type=Measures(1),
    default="30mm",
    show_default=True,
    metavar="LENGTH",
    help="The least that neighbouring tiles share.",
)
@click.option("--ppi", type=float, default=600.0, show_default=True, help="Of the scans.")
@click.option(
    "--frame",
    type=click.Choice([frame.value for frame in Frame]),
    default=Frame.STRETCHED.value,
    show_default=True,
    help="What is painted on: a stretched canvas, a board, or loose paper.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Also draw the plan: a new file that ends with .svg or .png.",
)
@options.as_json
def command(
    painting: tuple[float, float],
    glass: tuple[float, float],
    clear: tuple[float],
    overlap: tuple[float],
    ppi: float,
    frame: str,
    out: Path | None,
    as_json: bool,
) -> int:
    """Tell how to scan a painting: how many tiles, how each lies, where the strip goes.

    Nothing is scanned and nothing is written, but the drawing asked for with --out.
    """
    from colormatch.job.plan import plan

    wish = Wish(
        painting=painting,
        glass=glass,
        clear=clear[0],
        overlap=overlap[0],
        ppi=ppi,
        frame=Frame(frame),
    )
    report = plan(wish, out=out)
    if as_json:
        from colormatch.reporting.plain_json import plain_json

        click.echo(plain_json(report))
    else:
        from colormatch.reporting.plan_text import text_plan

        click.echo(text_plan(report))
    return Status.DONE
