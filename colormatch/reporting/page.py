"""The report as one self-contained page: opens from disk, prints, needs no network."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

from markupsafe import Markup

from colormatch import __version__
from colormatch.reporting import figures, light_plots, merge_plots, patch_plots, strip_drawings
from colormatch.reporting.headline import KINDS, SIGNS, headline
from colormatch.reporting.palette import DARK, LIGHT, variables
from colormatch.standards.tolerances import Outcome, tolerance_set
from colormatch.verdict import Finding, JobReport, PatchReport, TileReport
from colormatch.views import MergeView, TileView

ROOM = "colormatch.reporting"
CANNOT_SHOW = (
    "evenness of the light over the whole glass: only along the strip and, in a merge, in overlaps",
    "sharpness and resolution of detail",
    "geometry away from the strip: waves of the carriage, bends",
    "the colour of paints: they reflect otherwise than inks of the same colour, so expect 1.5 to "
    "2 times the strip's figure, and more under a lamp of three narrow colours",
    "tones darker than its darkest patch",
    "gloss, relief and metallic paint",
)
"""What no strip beside a painting can prove, whatever its figures are."""


@dataclass(frozen=True, kw_only=True)
class Plot:
    """A drawing, what it is called, and how to read it and what good looks like."""

    title: str
    svg: Markup
    caption: str
    wide: bool = False


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

    return Environment(
        loader=FunctionLoader(lambda name: files(ROOM).joinpath(name).read_text("utf-8")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page_context(report: JobReport) -> dict[str, Any]:
    """Give everything the template shows."""
    views = report.views
    return {
        "version": __version__,
        "report": report,
        "headline": headline(report),
        "style": Markup(files(ROOM).joinpath("page.css").read_text("utf-8")),
        "light": Markup(variables(LIGHT)),
        "dark": Markup(variables(DARK)),
        "tiles": [tile_context(tile, views.tiles.get(tile.scan)) for tile in report.tiles],
        "across": figures.across_rows(report),
        "across_plots": across_plots(report),
        "merged": report.merged,
        "merged_rows": [] if report.merged is None else figures.merged_rows(report.merged),
        "merged_plots": merged_plots(report),
        "shares": shares(report),
        "assumed": report.assumed,
        "cannot": CANNOT_SHOW,
        "note": tolerance_set(report.tolerance).note if report.tolerance else "",
    }


def tile_context(tile: TileReport, view: TileView | None) -> dict[str, Any]:
    """Give what is shown of one tile."""
    name = Path(tile.scan).name
    return {
        "name": name,
        "report": tile,
        "sign": SIGNS[tile.advice],
        "kind": KINDS[tile.advice],
        "findings": [finding_context(finding) for finding in tile.findings],
        "thumbnail": None if view is None else strip_drawings.thumbnail(view, name),
        "strips": [] if view is None else strip_plots(tile, view),
        "plots": [*patch_figures(tile.patches, tile.outcome), *curve_figures(view)],
        "rows": [
            *figures.result_rows(tile),
            *([] if tile.colour is None else figures.colour_rows(tile.colour)),
            *figures.scan_rows(tile),
        ],
        "levels": None if tile.outcome is None else figures.level_table(tile.outcome),
    }


def finding_context(finding: Finding) -> dict[str, Any]:
    """Give what is shown of one finding."""
    return {
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
            caption="ΔE2000: narrow bar in the fit, wide bar left out of the fit. The two should "
            f"be nearly alike. {lines} The three worst are named.",
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


def across_plots(report: JobReport) -> list[Plot]:
    """Compare the tiles."""
    lit = [(Path(t.scan).name, t.colour.gains) for t in report.tiles if t.colour is not None]
    if len(lit) < 2:
        return []
    return [
        Plot(
            title="Light of the tiles",
            svg=light_plots.gains_plot([name for name, _ in lit], [gains for _, gains in lit]),
            caption="Red: round, green: square, blue: triangle; percent more or less than the "
            "first tile of the same settings. Good: together and near 0; it was evened out.",
        )
    ]


def merged_plots(report: JobReport) -> list[Plot]:
    """Show the joined picture."""
    plots: list[Plot] = []
    if report.views.merged is not None:
        plots += map_plots(report.views.merged)
    if report.merged is not None and report.merged.overlaps:
        plots.append(
            Plot(
                title="Light in the overlaps",
                svg=merge_plots.overlap_plot(report.merged.overlaps),
                caption="How far two tiles differ where both show the painting: hollow before, "
                "full after levelling. Good: full dots left of the dashed line.",
            )
        )
    return plots


def map_plots(view: MergeView) -> list[Plot]:
    """Show the maps and the residuals of placing."""
    residuals, times = merge_plots.residual_plot(view)
    tints = len(set(view.shades.values()))
    again = f" Tints come again after {tints} tiles." if tints < len(view.shades) else ""
    return [
        Plot(
            title="Which part is from which tile",
            svg=merge_plots.map_picture(view.seams, "map of the seams"),
            caption="The joined picture in grey, each tile's part tinted; seams are white lines. "
            f"Good: seams go round what is painted.{again}",
        ),
        Plot(
            title="What levelling did",
            svg=merge_plots.map_picture(view.levelling, "map of the levelling"),
            caption="Orange was made lighter, blue darker; the full tint stands for "
            f"{view.full_tint:g} % of light. Good: soft and pale, with nothing of the motif in it.",
        ),
        Plot(
            title="What tiles miss each other by",
            svg=residuals,
            caption="Residuals of placing where two tiles were compared, drawn "
            f"{times} times as long. Good: shorter than the ruler, in all directions.",
        ),
    ]


def shares(report: JobReport) -> list[tuple[str, str, float, str]]:
    """Give each tile's name, tint, share in percent, and what its light is tied to."""
    if report.merged is None:
        return []
    view = report.views.merged
    tints = {} if view is None else view.shades
    return [
        (
            name,
            tint_of(tints.get(name)),
            share * 100,
            report.merged.levels.get(name, ""),
        )
        for name, share in report.merged.shares.items()
    ]


def tint_of(shade: tuple[float, float, float] | None) -> str:
    """Give a tile's tint in the map of the seams."""
    from colormatch.reporting.pictures import hex_from_srgb

    return "#999999" if shade is None else hex_from_srgb(shade)
