"""The part of the page about the joined picture."""

from __future__ import annotations

from typing import Any

from colormatch.merged import MergedReport, PlaceReport
from colormatch.reporting import (
    avoided_plots,
    figures,
    level_plots,
    merge_plots,
    overlap_plots,
    seam_pictures,
)
from colormatch.reporting.pictures import hex_from_srgb
from colormatch.reporting.plot import Gallery, Plot
from colormatch.reporting.scales import CHANGE, DIFFERENCE, legend
from colormatch.verdict import JobReport
from colormatch.views import MergeView

MOST_FIELDS = 24
"""Tiles whose levelling is drawn."""


def merged_context(report: JobReport, merged: MergedReport) -> dict[str, Any]:
    """Give what the template shows of the joined picture."""
    view = report.views.merged
    named = [place for place in merged.places if place.text in merged.remarks]
    told = {place.text for place in named}
    return {
        "report": merged,
        "rows": figures.merged_rows(merged),
        "shares": shares(merged, view),
        "plots": [] if view is None else map_plots(view),
        "crops": [] if view is None else crops(view),
        "crops_left": 0 if view is None else view.seams_left,
        "overlap_plots": overlap_figures(merged, view),
        "fields": None if view is None else field_gallery(view),
        "avoided": None if view is None else avoided_figure(view, named),
        "several": len(merged.shares) > 1,
        "blank": any(one.blank for one in merged.levelling),
        "places": named,
        "remarks": [remark for remark in merged.remarks if remark not in told],
    }


def map_plots(view: MergeView) -> list[Plot]:
    """Show the maps and the residuals of placing."""
    tints = len(set(view.shades.values()))
    again = f" Tints come again after {tints} tiles." if tints < len(view.shades) else ""
    numbers = " Numbered boxes are the pieces shown below." if view.crops else ""
    boxes = seam_pictures.boxes_on_map(view)
    return [
        Plot(
            title="Which part is from which tile",
            svg=merge_plots.map_picture(view.seams, "map of the seams", *boxes),
            caption="The joined picture in grey, each tile's part tinted; seams are white lines. "
            f"Good: seams go round what is painted.{numbers}{again}",
        ),
        *([residual_figure(view)] if any(len(pair.gaps) for pair in view.residuals) else []),
    ]


def residual_figure(view: MergeView) -> Plot:
    """Show what tiles miss each other by."""
    residuals, times = merge_plots.residual_plot(view)
    return Plot(
        title="What tiles miss each other by",
        svg=residuals,
        caption="Where two tiles were compared (dots), and by how much they miss each other "
        f"there (lines), drawn {times} times as long; the ruler is half a pixel at that "
        "length. Good: lines shorter than the ruler, in all directions. Long lines side by "
        "side: the painting moved or bent between two scans.",
    )


def crops(view: MergeView) -> list[dict[str, Any]]:
    """Give each piece across a seam: title, figures, three pictures."""
    return [
        {
            "title": f"{k}. {' and '.join(crop.tiles)}",
            "where": f"middle at {crop.middle[0]:.0f} × {crop.middle[1]:.0f} mm from the top left "
            f"corner; the two tiles differ by up to {crop.delta_e:.1f} ΔE2000 along the seam here",
            "pictures": seam_pictures.three_of(crop),
        }
        for k, crop in enumerate(view.crops, 1)
    ]


def overlap_figures(merged: MergedReport, view: MergeView | None) -> list[Plot]:
    """Show how far the tiles' light differs, before and after levelling."""
    if not merged.overlaps:
        return []
    plots = [] if view is None else difference_maps(view)
    if any(one.counts_before for one in merged.overlaps):
        plots.append(
            Plot(
                title="How many places differ by how much",
                svg=overlap_plots.histograms(merged.overlaps),
                caption="For each two tiles, the share of the places that both show, in steps of "
                "0.1 ΔE2000: line before, filled after levelling, with the height of its highest "
                "step; 3+ holds all above. Good: the filled part crowded at the left, nearly all "
                "of it left of the dashed line." + more_pairs(merged),
            )
        )
    plots.append(
        Plot(
            title="Light in the overlaps, summed up",
            svg=merge_plots.overlap_plot(merged.overlaps),
            caption="What 95 of 100 places of two tiles stay below: hollow before, full after "
            "levelling. Good: full dots left of the dashed line.",
        )
    )
    return plots


def more_pairs(merged: MergedReport) -> str:
    """Say how many pairs are not drawn."""
    left = len(merged.overlaps) - overlap_plots.MOST_PAIRS
    return f" {left} more pairs that differ less are in the table only." if left > 0 else ""


def difference_maps(view: MergeView) -> list[Plot]:
    """Show where the tiles' light differs."""
    scale = legend(DIFFERENCE)
    return [
        Plot(
            title="Where tiles differ, before levelling",
            svg=overlap_plots.difference_map(view.grey, view.before, "before"),
            caption="Matched, not yet levelled; means over about 4 mm; where more than two tiles "
            "meet, the largest. The scale is the same on every page. Good: pale, without "
            "darker ends.",
            legend=scale,
        ),
        Plot(
            title="Where tiles differ, after levelling",
            svg=overlap_plots.difference_map(view.grey, view.after, "after"),
            caption="The same after the light of all tiles was evened out. Good: nearly all "
            "below 1, and nowhere darker than before. Dark specks that stay are local: a shadow, "
            "dust, or paint off the glass in one tile; that tile is avoided there (see below).",
            legend=scale,
        ),
    ]


def field_gallery(view: MergeView) -> Gallery:
    """Show what levelling did, over the picture and over each tile."""
    shown = view.fields[:MOST_FIELDS]
    left = len(view.fields) - len(shown)
    return Gallery(
        title="What levelling did to each tile",
        items=tuple(
            (one.tile, level_plots.field_map(one), level_plots.range_words(one)) for one in shown
        ),
        caption="Change of light in percent, mean of the three channels, each tile as it was "
        "scanned; orange was made lighter, blue darker; dots mark the least and the most. Grey "
        "is not painting. Good: broad, soft steps within 6 %, and nothing of the motif in them: "
        "a shape you know from the painting would mean that paint was taken for light."
        + (f" {left} more tiles are in the table only." if left else ""),
        legend=legend(CHANGE),
    )


def avoided_figure(view: MergeView, places: list[PlaceReport]) -> Plot:
    """Show where tiles were avoided."""
    return Plot(
        title="Places where a tile was avoided",
        svg=avoided_plots.avoided_map(view, places),
        caption="Where tiles show the same place differently, and the better one was taken as "
        "far as possible; numbers as in the list. Good: few and small, away from what matters; "
        "look at each number in the joined picture.",
        legend=avoided_plots.avoided_key(),
    )


def shares(merged: MergedReport, view: MergeView | None) -> list[tuple[str, str, float, str]]:
    """Give each tile's name, tint, share in percent, and what its light is tied to."""
    tints = {} if view is None else view.shades
    return [
        (name, tint_of(tints.get(name)), share * 100, merged.levels.get(name, ""))
        for name, share in merged.shares.items()
    ]


def tint_of(shade: tuple[float, float, float] | None) -> str:
    """Give a tile's tint in the map of the seams."""
    return "#999999" if shade is None else hex_from_srgb(shade)
