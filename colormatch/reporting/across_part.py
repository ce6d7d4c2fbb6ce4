"""The part of the page that holds the tiles against each other."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from colormatch.reporting import figures, light_plots, matrix_plots
from colormatch.reporting.patch_plots import seen_patches
from colormatch.reporting.plot import Gallery, Plot
from colormatch.verdict import ColourReport, JobReport, PatchReport

Fitted = tuple[str, ColourReport, tuple[PatchReport, ...]]
"""Name, colour and patches read of a tile that could be fitted."""
MOST_TILES = 12
"""Tiles whose own matrix is drawn, those farthest off first."""


def across_context(report: JobReport) -> dict[str, Any]:
    """Give what the template shows of all tiles together."""
    fitted = [
        (Path(t.scan).name, t.colour, tuple(seen_patches(t.patches)))
        for t in report.tiles
        if t.colour is not None
    ]
    return {
        "rows": figures.across_rows(report),
        "plots": across_plots(fitted) if len(fitted) > 1 else [],
        "matrices": matrix_gallery(fitted) if len(fitted) > 1 else None,
        "fitted": fitted if len(fitted) > 1 else [],
    }


def across_plots(fitted: list[Fitted]) -> list[Plot]:
    """Compare the tiles' light and their matrices."""
    names = [name for name, _, _ in fitted]
    colours = [colour for _, colour, _ in fitted]
    return [
        Plot(
            title="Light of the tiles",
            svg=light_plots.gains_plot(names, [colour.gains for colour in colours]),
            caption="Red: round, green: square, blue: triangle; percent more or less than the "
            "first tile of the same settings. Good: together and near 0; it was evened out.",
        ),
        Plot(
            title="Each tile's own matrix against the shared one",
            svg=matrix_plots.departures(names, colours),
            caption="Dot: how far the colours would move if the tile had a matrix of its own, "
            "mean ΔE2000 over the patches; bar: what noise alone explains of it. Good: left of "
            "the dashed line at 0.3, or not far beyond the bar. Farther right, the tile was "
            "scanned with other settings or its strip is dirty.",
        ),
    ]


def matrix_gallery(fitted: list[Fitted]) -> Gallery | None:
    """Show what each tile's own matrix would change."""
    farthest = sorted(fitted, key=lambda one: -one[1].departure)[:MOST_TILES]
    shown = [one for one in fitted if one in farthest and one[2]]
    if not shown:
        return None
    moved = [matrix_plots.shifts(colour, patches) for _, colour, patches in shown]
    times = matrix_plots.lengthening(moved)
    left = len(fitted) - len(shown)
    return Gallery(
        title="What its own matrix would change in each tile",
        items=tuple(
            (
                name,
                matrix_plots.shift_plot(name, one, patches, times),
                f"{colour.departure:.2f}\u00a0ΔE2000 mean",
            )
            for (name, colour, patches), one in zip(shown, moved, strict=True)
        ),
        caption=f"Each dot is a patch under the shared matrix, in CIELAB a* (green to red) and b* "
        f"(blue to yellow); its line points to where the tile's own matrix would put it, drawn "
        f"{times} times as long. Good: short lines. Lines alike in all tiles are a habit of the "
        "fit; long ones in one tile alone mean other settings, or a dirty strip."
        + (f" {left} more tiles that differ less are not drawn." if left else ""),
    )  # fmt: skip
