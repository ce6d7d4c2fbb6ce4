"""Options that several commands share, declared once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from colormatch.standards.figures import TOLERANCE_SETS

if TYPE_CHECKING:
    from colormatch.job.log import LogOptions

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
    return _valuing(_looking(_painting(function)))


def _valuing(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say what the strip's patches measure."""
    options: tuple[Decorator, ...] = (
        click.option(
            "--reference",
            multiple=True,
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Measured values of the strip (ISO 28178 text or CSV); repeat it to average "
            "several files. Without it the strip's nominal values are assumed.",
        ),
        click.option(
            "--references",
            type=click.Path(path_type=Path),
            metavar="FOLDER",
            help="Folder of such files: each strip's own is picked by the serial in its symbol.",
        ),
        click.option(
            "--any-sheet",
            is_flag=True,
            help="Take --reference even if it is of a sheet with another serial.",
        ),
    )
    return _with(function, options)


def _looking(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say what to look for, and how good is good enough."""
    options: tuple[Decorator, ...] = (
        click.option(
            "--layout",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Design of the target: a file (TOML), or iso-12641-1. Without it any strip of "
            "ours is looked for.",
        ),
        click.option(
            "--corners",
            multiple=True,
            metavar="[SCAN=]X,Y X,Y X,Y X,Y",
            help="Where the target of --layout lies if it is not found: pixels of the outer "
            "corners of its corner patches, clockwise from the layout's top left.",
        ),
        click.option(
            "--tolerance",
            type=click.Choice(list(TOLERANCE_SETS)),
            default="matched",
            show_default=True,
            help="Published figures to measure against.",
        ),
    )
    return _with(function, options)


def _with(function: Callable[..., Any], options: Sequence[Decorator]) -> Callable[..., Any]:
    """Add options, shown by the help in the order given."""
    for option in reversed(options):
        function = option(function)
    return function


def _painting(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of the painter's own paints."""
    options: tuple[Decorator, ...] = (
        click.option(
            "--swatches",
            type=click.Path(path_type=Path),
            metavar="SCAN",
            help="Scan of your own paints on the sheet of `target --swatches`, a strip beside it, "
            "same settings. Makes the colour of paint truer.",
        ),
        click.option(
            "--swatch-reference",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Measured values of those paints: the table filled in.",
        ),
        click.option(
            "--swatch-layout",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Design of their sheet (TOML), if it is not one of ours.",
        ),
    )
    return _with(function, options)


def logging(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of a studio's log."""
    options: tuple[Decorator, ...] = (
        click.option(
            "--log",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Add one row per scan to this log (SQLite); see colormatch history.",
        ),
        click.option(
            "--scanner",
            default="",
            metavar="NAME",
            help="What the log calls the scanner.  [default: as the scans state it]",
        ),
        click.option(
            "--strip",
            default="",
            metavar="NAME",
            help="What the log calls this very strip.  [default: its reference]",
        ),
    )
    return _with(function, options)


def log_options(given: dict[str, Any], scans: tuple[Path, ...]) -> LogOptions | None:
    """Take the log's options out of what was typed; None if no log is wanted.

    A file that is no log is refused here, before any work is done.
    """
    path, scanner, strip = (given.pop(name) for name in ("log", "scanner", "strip"))
    if path is None:
        if scanner or strip:
            raise click.UsageError("--scanner and --strip name things in a log: give --log FILE")
        return None
    from colormatch.job.log import LogOptions, refuse_log

    log = LogOptions(path=path, scanner=scanner, strip=strip)
    refuse_log(log, scans)
    return log


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
    return _with(function, options)


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
