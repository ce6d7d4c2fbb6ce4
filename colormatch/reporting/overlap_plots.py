"""Where tiles differ, before and after levelling: maps, histograms, figures in rows."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from colormatch.merged import STEP, STEPS, OverlapReport
from colormatch.reporting.light_plots import short
from colormatch.reporting.pictures import data_uri
from colormatch.reporting.scales import DIFFERENCE, classes_uri
from colormatch.reporting.svg import Axes, drawing, line, tag, text
from colormatch.views import Picture

WIDTH = 340.0
GOOD = 1.0
"""ΔE2000, 95th percentile, above which two tiles' light can be told apart."""
ROW = 80.0
"""Height of one pair's histogram, drawing units."""
MOST_PAIRS = 12
"""Histograms drawn, of the pairs that differed most."""


def on_grey(grey: Picture, address: str, title: str, *more: Markup) -> Markup:
    """Lay a map of tints, and more, on the picture in pale grey."""
    height = WIDTH * grey.shape[0] / grey.shape[1]
    size = {"width": WIDTH, "height": height}
    parts = [
        tag("image", href=data_uri(grey), **size),
        tag(
            "image", href=address, preserveAspectRatio="none", class_="cells", **size
        ),
        *more,
    ]  # fmt: skip
    return drawing(WIDTH, height, title, *parts, class_="plot picture map")


def difference_map(grey: Picture, values: NDArray[np.float32], when: str) -> Markup:
    """Draw how far tiles differ all over the picture."""
    address = classes_uri(DIFFERENCE.classes(values), DIFFERENCE.tints)
    return on_grey(grey, address, f"differences of the tiles {when} levelling")


def histograms(overlaps: Sequence[OverlapReport]) -> Markup:
    """Draw each pair's histogram: before as an outline, after filled."""
    shown = sorted(overlaps, key=lambda one: -one.before)[:MOST_PAIRS]
    top = max(
        [1e-6]
        + [max(shares) for one in shown for shares in (both(one)[0], both(one)[1])]
    )  # fmt: skip
    height = ROW * len(shown) + 46
    parts: list[Markup] = []
    for row, one in enumerate(shown):
        parts += histogram(one, row, top, last=row == len(shown) - 1, height=height)
    return drawing(WIDTH, height, "differences of the tiles as histograms", *parts)


def both(one: OverlapReport) -> tuple[list[float], list[float]]:
    """Give the shares of places per step, percent, before and after."""
    sides = []
    for counts in (one.counts_before, one.counts_after):
        total = max(sum(counts), 1)
        sides.append([100 * n / total for n in counts])
    return sides[0], sides[1]


def histogram(
    one: OverlapReport, row: int, top: float, *, last: bool, height: float
) -> list[Markup]:
    """Draw one pair's histogram in its row."""
    axes = Axes(
        x=(0.0, STEP * (STEPS + 1)), y=(0.0, top), width=WIDTH, height=ROW * (row + 1) + 12,
        left=12, top=ROW * row + 28, bottom=12,
    )  # fmt: skip
    before, after = both(one)
    names = " and ".join(short(Path(name).name, 15) for name in one.tiles)
    parts = [
        text(axes.left, axes.top - 12, names),
        text(axes.width - axes.right, axes.top - 12, height_words(after), "end", "t soft"),
        line(axes.at(0, 0), axes.at(axes.x[1], 0), "grid"),
        *(bar(axes, k, share) for k, share in enumerate(after) if share),
        axes.path(outline(before), "curve two thin"),
        line(axes.at(GOOD, 0), axes.at(GOOD, top), "limit"),
    ]
    for value in (0, 1, 2, 3) if last else ():
        x, y = axes.at(value, 0)
        parts.append(text(x, y + 15, f"{value}{'+' if value == 3 else ''}", "middle"))
    if last:
        middle = (axes.left + WIDTH - axes.right) / 2
        parts.append(text(middle, height - 6, "ΔE2000 between the two tiles", "middle", "t soft"))
    return parts


def height_words(shares: Sequence[float]) -> str:
    """Say how high the highest step is."""
    return f"highest {max(shares):.0f} %"


def bar(axes: Axes, step: int, share: float) -> Markup:
    """Draw one step of the filled histogram."""
    x, y = axes.at(step * STEP, share)
    right, base = axes.at((step + 1) * STEP, 0)
    return tag("rect", x=x, y=y, width=right - x - 0.6, height=base - y, class_="bar in")


def outline(shares: Sequence[float]) -> list[tuple[float, float]]:
    """Give the corners of a histogram's outline."""
    corners = [(0.0, 0.0)]
    for k, share in enumerate(shares):
        corners += [(k * STEP, share), ((k + 1) * STEP, share)]
    return [*corners, (len(shares) * STEP, 0.0)]
