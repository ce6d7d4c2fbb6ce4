"""Pictures of a joined painting: maps, placing residuals, overlaps before and after."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from markupsafe import Markup

from colormatch.merged import OverlapReport
from colormatch.model import FloatArray
from colormatch.reporting.light_plots import ROW, short
from colormatch.reporting.pictures import data_uri
from colormatch.reporting.svg import Axes, drawing, line, tag, text
from colormatch.views import MergeView, Picture

TIMES = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
"""Factors by which residuals may be drawn longer."""
ARROW_SHARE = 0.04
"""Length of a large arrow, share of the drawing's width."""
WIDTH = 340.0
GOOD_OVERLAP = 1.0
"""ΔE2000, 95th percentile, above which two tiles' light can be told apart."""


def map_picture(picture: Picture, title: str, *more: Markup) -> Markup:
    """Show a map as it is, with more drawn on it in its own pixels."""
    height, width = picture.shape[:2]
    image = tag("image", href=data_uri(picture), width=width, height=height)
    return drawing(width, height, title, image, *more, class_="plot picture map")


def residual_plot(view: MergeView) -> tuple[Markup, int]:
    """Draw residuals as lengthened arrows; also give how many times they are lengthened."""
    scale = WIDTH / view.size[0]
    height = max(60.0, view.size[1] * scale)
    gaps = [gap for pair in view.residuals for gap in pair.gaps]
    times = lengthening(np.array(gaps).reshape(-1, 2), view.size[0])
    parts = [tag("rect", width=WIDTH, height=height, class_="canvas")]
    for pair in view.residuals:
        for place, gap in zip(pair.places, pair.gaps, strict=True):
            parts += arrow((place + 0.5) * scale, (place + 0.5 + gap * times) * scale)
    half = 0.5 * times * scale
    parts += [
        line((8.0, height - 9), (8.0 + half, height - 9), "ruler"),
        text(8.0, height - 14, "0.5 pixel"),
    ]
    return drawing(WIDTH, height, "what tiles miss each other by", *parts), times


def lengthening(gaps: FloatArray, width: float) -> int:
    """Choose the factor that makes large residuals a few percent of the picture's width."""
    if len(gaps) == 0:
        return 1
    large = float(np.percentile(np.linalg.norm(gaps, axis=1), 95))
    wanted = ARROW_SHARE * width / max(large, 1e-6)
    return max((t for t in TIMES if t <= wanted), default=1)


def arrow(start: FloatArray, end: FloatArray) -> list[Markup]:
    """Draw a residual: a dot where it was measured, a line to where it points."""
    a, b = (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))
    return [line(a, b, "error"), tag("circle", cx=a[0], cy=a[1], r=1.6, class_="root")]


def overlap_plot(overlaps: Sequence[OverlapReport]) -> Markup:
    """Draw how far the tiles' light differs before (hollow) and after (full) levelling."""
    top = max([1.5, *(max(o.before, o.after) for o in overlaps)]) * 1.15
    height = 54 + ROW * 1.4 * len(overlaps)
    axes = Axes(x=(0.0, top), y=(len(overlaps), 0.0), width=WIDTH, height=height, left=12)
    parts = axes.frame("ΔE2000, 95th percentile", "", y_numbers=False)
    good = (axes.at(GOOD_OVERLAP, len(overlaps)), axes.at(GOOD_OVERLAP, 0))
    parts.append(line(*good, "limit"))
    for k, one in enumerate(overlaps):
        parts += before_after(axes, k, one)
    return drawing(WIDTH, height, "light of the overlaps before and after levelling", *parts)


def before_after(axes: Axes, row: int, one: OverlapReport) -> list[Markup]:
    """Draw one pair's row."""
    before, after = axes.at(one.before, row + 0.72), axes.at(one.after, row + 0.72)
    names = " and ".join(short(Path(name).name, 20) for name in one.tiles)
    return [
        text(axes.left + 3, axes.at(0, row + 0.38)[1], names),
        line(before, after, "error"),
        tag("circle", cx=before[0], cy=before[1], r=5, class_="hollow"),
        tag("circle", cx=after[0], cy=after[1], r=5, class_="sign one"),
    ]
