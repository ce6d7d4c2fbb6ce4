"""Reading a chart whose corners the user has pointed out."""

from __future__ import annotations

import numpy as np

from colormatch.finding.grids import (
    Chart,
    Search,
    chart_of,
    other_turns,
    reading_at,
    region_round,
    turned_onto,
)
from colormatch.finding.lattice_fit import ExactPose, exact_pose
from colormatch.finding.poses import affine, applied
from colormatch.finding.reading import Read, Region, read_patches
from colormatch.model import FloatArray, Layout, Reference

SKEW = 0.06
"""Of the longest side, by which corners may miss the shape of the layout: a slip of the
hand is less, two corners exchanged or a wrong layout are more."""

MOVED = 0.5
"""Of a patch's side, by which borders may move a pose that the user gave."""

LEAST_SHARE = 0.5
"""Of the borders seen, that must lie where they say for the pose to follow them."""

CLEARLY = 0.5
"""Share of the given turn's median at which another turn is certainly the right one."""

GOOD_MEDIAN = 6.0
"""Median CIEDE2000 up to which another turn is worth a word."""


def outer_corners(layout: Layout) -> tuple[FloatArray, tuple[str, ...]]:
    """Give the outer corners of a layout's corner patches, and the patches' ids.

    Returns
    -------
    corners : ndarray of shape (4, 2)
        Millimetres, clockwise from the top left.
    ids : tuple of str
        The patch at each.
    """
    boxes = np.array([(p.x, p.y, p.x + p.width, p.y + p.height) for p in layout.patches])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    ends = [(0, 1), (2, 1), (2, 3), (0, 3)]
    bounds = (low[0], low[1], high[0], high[1])
    corners, ids = [], []
    for x, y in ends:
        own = boxes[:, [x, y]]
        nearest = int(np.hypot(*(own - (bounds[x], bounds[y])).T).argmin())
        corners.append(own[nearest])
        ids.append(layout.patches[nearest].id)
    return np.array(corners), tuple(ids)


def chart_at(
    corners: FloatArray, read: Read, size: tuple[int, int], layout: Layout, reference: Reference
) -> Search:
    """Read a chart at given corners; where its borders are seen, their places count.

    Parameters
    ----------
    corners : ndarray of shape (4, 2)
        Scan pixels (x, y) of the outer corners of its corner patches, clockwise from that
        of the layout's top left.
    read, size, layout, reference
        As for `grids.find_chart`.

    Returns
    -------
    Search
        Without a reading if the corners cannot be those of the layout.
    """
    chart = chart_of(layout, reference)
    mm, ids = outer_corners(layout)
    rough = affine(mm, corners)
    reason = _impossible(rough, mm, corners, ids, size)
    if reason:
        return Search(strip=None, reason=reason)
    region = region_round(read, size, rough, chart, margin=0.0)
    exact = _followed(region, rough, chart)
    strip, median = reading_at(region, exact, chart)
    other = _better_turn(region, exact.px_from_mm, median, chart)
    return Search(strip=None, reason=other) if other else Search(strip=strip)


def _impossible(
    rough: FloatArray,
    mm: FloatArray,
    corners: FloatArray,
    ids: tuple[str, ...],
    size: tuple[int, int],
) -> str:
    """Say why corners cannot be those of the layout; empty if they can."""
    order = ", ".join(ids)
    outside = (corners < -0.5).any(axis=1) | (corners > np.array(size) - 0.5).any(axis=1)
    if outside.any():
        x, y = corners[outside][0]
        return (
            f"the corner {x:g},{y:g} lies outside the picture of {size[0]} x {size[1]} pixels: "
            "give corners in pixels of this very scan"
        )
    if np.linalg.det(rough[:, :2]) <= 0:
        return (
            "the corners given go round against the clock: give the outer corners of patches "
            f"{order}, which is clockwise on a scan that is not in mirror image"
        )
    away = np.linalg.norm(applied(rough, mm) - corners, axis=1)
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).max()
    if away.max() > SKEW * longest:
        worst = int(away.argmax())
        return (
            f"the corners given are not those of the layout: that of patch {ids[worst]} lies "
            f"{away[worst]:.0f} pixels from where the other three have it; give the outer "
            f"corners of patches {order}, in this order"
        )
    return ""


def _followed(region: Region, rough: FloatArray, chart: Chart) -> ExactPose:
    """Fit the pose to the borders; keep the given one where they are not seen."""
    exponent = chart.wanted.likeness(_colours(region, rough, chart)).exponent
    side = chart.design.side
    exact = exact_pose(region, rough, chart.borders, side, exponent)
    if exact is not None and exact.share >= LEAST_SHARE:
        per_mm = float(np.sqrt(abs(np.linalg.det(rough[:, :2]))))
        mm = outer_corners(chart.layout)[0]
        moved = applied(exact.px_from_mm, mm) - applied(rough, mm)
        if np.linalg.norm(moved, axis=1).max() <= MOVED * side * per_mm:
            return exact
    return ExactPose(px_from_mm=rough, residual=0.0, share=0.0, seen=0)


def _colours(region: Region, pose: FloatArray, chart: Chart) -> FloatArray:
    """Read the patches at a pose; NaN outside the scan."""
    means = read_patches(region, pose, chart.layout)
    inside = np.array([mean.inside for mean in means])
    return np.where(inside[:, None], [mean.rgb for mean in means], np.nan)


def _better_turn(region: Region, pose: FloatArray, median: float, chart: Chart) -> str:
    """Say so if the colours fit clearly better another way round; empty if not."""
    mm = outer_corners(chart.layout)[0]
    for turn in other_turns(chart.design):
        other = chart.wanted.likeness(_colours(region, turned_onto(pose, turn), chart)).median
        if other > GOOD_MEDIAN or other > CLEARLY * median:
            continue
        if np.linalg.det(turn[:, :2]) < 0:
            return (
                f"the chart {chart.layout.name} is seen in mirror image: turn off mirroring in "
                "the scanner's software, lay the chart printed side to the glass, and scan again"
            )
        first = int(np.linalg.norm(mm - applied(turn, mm[0]), axis=1).argmin())
        place = ("first", "second", "third", "fourth")[first]
        return (
            f"the colours fit if the chart is turned: patch {chart.layout.patches[0].id} is at "
            f"the {place} corner given; begin with that one, and go on clockwise"
        )
    return ""
