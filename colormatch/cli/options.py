"""Options that several commands share, declared once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from colormatch.standards.figures import TOLERANCE_SETS

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]

scans = click.argument(
    "scans", nargs=-1, required=True, metavar="SCANS...", type=click.Path(path_type=Path)
)
force = click.option("--force", is_flag=True, help="Replace results that exist already.")
report = click.option(
    "--report",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Also leave the report as a page with pictures (report.html) and as JSON.",
)
as_json = click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")


def measuring(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say what the strip is and how good is good enough."""
    options: tuple[Decorator, ...] = (
        click.option(
            "--reference",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Measured values of the strip (ISO 28178 text or CSV). "
            "Without it its nominal values are assumed.",
        ),
        click.option(
            "--layout",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Design of the target (TOML). Without it any strip of ours is looked for.",
        ),
        click.option(
            "--tolerance",
            type=click.Choice(list(TOLERANCE_SETS)),
            default="matched",
            show_default=True,
            help="Published figures to measure against.",
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function


def writing(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say in which form pictures are written."""
    options: tuple[Decorator, ...] = (
        click.option(
            "--space",
            type=click.Choice(["srgb", "oprgb"]),
            default="srgb",
            show_default=True,
            help="Colour space; oprgb is compatible with Adobe RGB (1998).",
        ),
        click.option(
            "--bits",
            type=click.Choice(["8", "16"]),
            help="Bits per channel.  [default: 16; jpeg: 8]",
        ),
        click.option(
            "--compression",
            type=click.Choice(["deflate", "lzw", "none"]),
            default="deflate",
            show_default=True,
            help="How a TIFF is packed, always without loss.",
        ),
        click.option(
            "--icc-version",
            type=click.Choice(["2", "4"]),
            default="4",
            show_default=True,
            help="Version of the embedded profile; 2 for old software.",
        ),
        click.option("--title", default="", help="Title to write into the files."),
        click.option("--creator", default="", help="Who made the painting."),
        click.option("--copyright", default="", help="Copyright notice to write into the files."),
    )
    for option in reversed(options):
        function = option(function)
    return function


def chosen(given: dict[str, Any]) -> dict[str, Any]:
    """Turn what was typed into what the job takes."""
    if given["format"] == "jpeg" and given["bits"] == "16":
        raise click.UsageError("JPEG holds 8 bits: leave --bits out, or choose tiff or png")
    return {
        **given,
        "bits": None if given["bits"] is None else int(given["bits"]),
        "icc_version": int(given["icc_version"]),
    }


FORMATS = {".tif": "tiff", ".tiff": "tiff", ".png": "png", ".jpg": "jpeg", ".jpeg": "jpeg"}


def format_of(path: Path) -> str:
    """Tell the format from a file's ending."""
    found = FORMATS.get(path.suffix.lower())
    if found is None:
        raise click.UsageError(
            f"{path}: its ending does not tell the format; end it with .tif, .png or .jpg"
        )
    return found
