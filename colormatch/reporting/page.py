"""The report as one self-contained page: opens from disk, prints, needs no network."""

from __future__ import annotations

import re
from collections.abc import Sequence
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

from markupsafe import Markup

from colormatch import __version__
from colormatch.reporting import figures, light_plots, patch_plots, strip_drawings
from colormatch.reporting.across_part import across_context
from colormatch.reporting.headline import KINDS, SIGNS, claim, headline
from colormatch.reporting.merged_part import merged_context
from colormatch.reporting.palette import DARK, LIGHT, variables
from colormatch.reporting.place_drawings import numbers
from colormatch.reporting.plot import Plot
from colormatch.reporting.svg import signed
from colormatch.standards.tolerances import Outcome, tolerance_set
from colormatch.verdict import Finding, JobReport, PatchReport, TileReport
from colormatch.views import TileView

ROOM = "colormatch.reporting"
CANNOT_SHOW = (
    "evenness of the light over the whole glass: only along the strip and, in a merge, in overlaps",
    "sharpness and resolution of detail",
    "geometry away from the strip: waves of the carriage, bends",
    "the colour of paints: they reflect otherwise than inks of the same colour, so expect 1 to "
    "1.5 times the strip's figure, and twice as much under a lamp of three narrow colours",
    "tones darker than its darkest patch",
    "gloss, relief and metallic paint",
)
"""What no strip beside a painting can prove, whatever its figures are."""
HYPHENATED = re.compile(r"(--[a-z-]{2,20}|\b[\w.-]{1,12}-[\w.-]{0,12}\.\w{2,4}\b)")
"""Options, and file names that are short enough for a phone."""


def cannot_show(report: JobReport) -> tuple[str, ...]:
    """Give `CANNOT_SHOW`, as far as own paints do not show it."""
    if report.swatches is None:
        return CANNOT_SHOW
    return tuple(
        "the colour of paints that are not on the sheet of your own"
        if "of paints" in line
        else line
        for line in CANNOT_SHOW
    )


def html_page(report: JobReport) -> str:
    """Give the whole report as an HTML page.

    Parameters
    ----------
    report : JobReport
        What its ``views`` do not hold is left out of the pictures, never of the figures.

    Returns
    -------
    str
        HTML with its style, drawings and pictures inside; no script.
    """
    template = environment().get_template("page.html")
    return str(template.render(page_context(report)))


def environment() -> Any:
    """Set up the templates; everything put into them is escaped."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    templates = Environment(
        loader=FunctionLoader(lambda name: files(ROOM).joinpath(name).read_text("utf-8")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.filters.update(signed=signed, kept=kept)
    return templates


def kept(words: str) -> Markup:
    """Keep options and file names on one line, which a hyphen in them would break."""
    parts = HYPHENATED.split(words)
    return Markup("").join(
        Markup('<span class="nb">{}</span>').format(part) if k % 2 else part
        for k, part in enumerate(parts)
    )


def page_context(report: JobReport) -> dict[str, Any]:
    """Give everything the template shows."""
    views = report.views
    return {
        "version": __version__,
        "report": report,
        "headline": headline(report),
        "contents": contents(report),
        "style": Markup(files(ROOM).joinpath("page.css").read_text("utf-8")),
        "light": Markup(variables(LIGHT)),
        "dark": Markup(variables(DARK)),
        "tiles": [tile_context(tile, views.tiles.get(tile.scan)) for tile in report.tiles],
        "across": across_context(report),
        "joined": None if report.merged is None else merged_context(report, report.merged),
        "assumed": report.assumed,
        "claim": claim(report),
        "cannot": cannot_show(report),
        "note": tolerance_set(report.tolerance).note if report.tolerance else "",
    }


def contents(report: JobReport) -> list[tuple[str, str]]:
    """Name the parts of the page and where they begin."""
    merged, places = report.merged, []
    if merged is not None:
        places.append(("joined", "the joined picture"))
        places += [("seams", "its seams")] if merged.seams else []
        places += [("levelling", "light before and after")] if merged.levelling else []
        places += [("avoided", "places where tiles differ")] if len(merged.shares) > 1 else []
    if report.agreement is not None or report.groups:
        places.append(("across", "the tiles against each other"))
    places += [(f"tile-{k}", Path(t.scan).name) for k, t in enumerate(report.tiles, 1)]
    return [*places, ("cannot", "what a strip cannot prove"), ("words", "words")]


def tile_context(tile: TileReport, view: TileView | None) -> dict[str, Any]:
    """Give what is shown of one tile."""
    name = Path(tile.scan).name
    return {
        "name": name,
        "report": tile,
        "sign": SIGNS[tile.advice],
        "kind": KINDS[tile.advice],
        "findings": [
            finding_context(finding, number)
            for finding, number in zip(tile.findings, numbers(tile.findings), strict=True)
        ],
        "thumbnail": None if view is None else strip_drawings.thumbnail(view, name, tile.findings),
        "strips": [] if view is None else strip_plots(tile, view),
        "plots": [*patch_figures(tile.patches, tile.outcome), *curve_figures(view)],
        "rows": [
            *figures.result_rows(tile),
            *([] if tile.colour is None else figures.colour_rows(tile.colour)),
            *figures.scan_rows(tile),
        ],
        "levels": None if tile.outcome is None else figures.level_table(tile.outcome),
    }


def finding_context(finding: Finding, number: int | None) -> dict[str, Any]:
    """Give what is shown of one finding; ``number`` is that of its outlines."""
    return {
        "number": number,
        "finding": finding,
        "sign": SIGNS[finding.advice],
        "kind": KINDS[finding.advice],
        "measured": "; ".join(figures.measured_words(finding)),
    }


def strip_plots(tile: TileReport, view: TileView) -> list[Plot]:
    """Show each strip enlarged."""
    ends = [0]
    for strip in view.strips:
        ends.append(ends[-1] + len(strip.boxes))
    if ends[-1] != len(tile.patches):
        return []
    return [
        Plot(
            title="The strip, enlarged",
            svg=strip_drawings.strip_enlarged(strip, tile.patches[start:end]),
            caption="In each patch: left as wanted, right as scanned and corrected, both in sRGB. "
            "Good: no edge can be seen in the middle. Struck out: covered, dirty or clipped.",
            wide=True,
        )
        for strip, (start, end) in zip(view.strips, pairwise(ends), strict=True)
    ]


def patch_figures(patches: Sequence[PatchReport], outcome: Outcome | None) -> list[Plot]:
    """Show the patches' errors."""
    if not patch_plots.seen_patches(patches):
        return []
    drawn, times = patch_plots.limits(outcome), patch_plots.lengthening(patches)
    lines = (
        "Dashed: limits of the tolerance, for the statistic named beside each."
        if drawn
        else "The tolerance chosen has no limit in this formula, so no line is drawn."
    )
    return [
        Plot(
            title="Colour difference of every patch",
            svg=patch_plots.patch_bars(patches, outcome),
            caption="ΔE2000: narrow bar in the fit, wide bar left out of the fit. Good: low, and "
            f"the two nearly alike. {lines} The three worst are named.",
            wide=True,
        ),
        Plot(
            title="Errors of colour",
            svg=patch_plots.ab_plot(patches, times),
            caption="Each dot is a patch where it should be; its line points to where it was "
            f"scanned, drawn {times:g} times as long. a* and b* are CIELAB units. "
            "Good: short lines in all directions; lines all one way are a colour cast.",
        ),
        Plot(
            title="Errors of lightness",
            svg=patch_plots.lightness_plot(patches),
            caption="Scanned less wanted, in units of L* (0 black, 100 white). Good: within 2, "
            "and no slope or bow from dark to light.",
        ),
    ]


def curve_figures(view: TileView | None) -> list[Plot]:
    """Show what the fit found about the scanner."""
    if view is None or not len(view.curve):
        return []
    return [
        Plot(
            title="Tone curve",
            svg=light_plots.tone_curve(view.curve),
            caption="Light behind the numbers in the file; one line if the channels share it. "
            f"Dotted: a plain power of {light_plots.COMPARED_POWER} for comparison. Good: smooth, "
            "and the same for all tiles.",
        ),
        Plot(
            title="Light along the strip",
            svg=light_plots.fall_off(view.lamp),
            caption="Percent of the light at the strip's middle. Good: within 6 %; it was taken "
            "out of the tile, on the assumption that the rest of the glass is lit alike.",
        ),
    ]
