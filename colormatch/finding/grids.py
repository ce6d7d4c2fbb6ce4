"""Finding a chart without marks in a scan by its patches, and reading it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from colormatch.finding.agreement import agreement, expected_rgb, sampled_rgb
from colormatch.finding.border_design import Borders, borders_of
from colormatch.finding.lattice import Design, Guess, improved, likely_places
from colormatch.finding.lattice_fit import ExactPose, exact_pose
from colormatch.finding.poses import applied, full_scale
from colormatch.finding.reading import Read, Region, read_patches, usable_patches
from colormatch.finding.scales import MM_PER_INCH, Resolution, reduced, stated_ppi
from colormatch.finding.turning import NOTHING, Wanted
from colormatch.model import FloatArray, Layout, Reference, StripReading

MOST_LOOKED_AT = 4
"""Likely places, of those whose colours agree most, that are looked at closely."""

MOST_MEDIAN = 6.0
"""Median CIEDE2000, after a fit of curve, gains and 3x3, up to which colours are the chart's."""

FIRST_MEDIAN = 12.0
"""The same in the small picture, where patches are only roughly in place."""

RUNNER_UP = 0.5
"""The right turn's median is at most this share of that of any other turn, or mirrored."""

LEAST_SHARE = 0.5
"""Of the borders seen, that must be where the pose has them."""

SQUARE = 0.12
"""Difference of sides up to which a chart might also lie a quarter turn round."""

MIRRORS = (False, True)

LADDER, LADDER_RATIO = (60.0, 1300.0), 1.08
"""Pixels per inch tried when the file is no help, and the ratio from one to the next."""

MOST_COMPARED = 48
"""Likely places whose colours are compared."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Search:
    """What a search gave: a reading, or why there is none and what to do."""

    strip: StripReading | None
    reason: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class Chart:
    """A layout with all that is worked out from it once."""

    layout: Layout
    expected: FloatArray
    wanted: Wanted
    design: Design
    borders: Borders


def chart_of(layout: Layout, reference: Reference) -> Chart:
    """Work out what finding and reading need; patches without a value are not used."""
    expected = expected_rgb(layout, reference)
    values = dict(zip(reference.ids, reference.xyz, strict=True))
    xyz = np.array([values.get(patch.id, np.full(3, np.nan)) for patch in layout.patches])
    return Chart(
        layout=layout,
        expected=expected,
        wanted=Wanted(xyz),
        design=Design(layout, expected),
        borders=borders_of(layout),
    )


def find_chart(
    overview: FloatArray,
    step: int,
    read: Read,
    size: tuple[int, int],
    layout: Layout,
    reference: Reference,
    *,
    ppi: Resolution = None,
) -> Search:
    """Find a chart without marks, once, in any quarter turn, and read its patches.

    It is taken for found only if its colours are those of the reference after a fit of
    curve, gains and 3x3, clearly better than in any other turn, and if the borders of its
    patches are where the layout has them.

    Parameters
    ----------
    overview, step, read, size, ppi
        As for `strips.find_strips`.
    layout : Layout
        The chart's design.
    reference : Reference
        Values of its patches.

    Returns
    -------
    Search
        The reason is one sentence without the name of the file.
    """
    chart = chart_of(layout, reference)
    overview, step = reduced(overview, step)
    grey = np.ascontiguousarray(overview.mean(axis=2, dtype=np.float32))
    groups = _scales(ppi, step)
    for scales in groups:
        for guess in _likeliest(overview, grey, scales, chart):
            strip = _confirmed(guess, overview, step, read, size, chart)
            if strip is not None:
                return Search(strip=strip)
    mirrored = any(
        _turn_is_sure(guess.px_from_mm, overview, chart)
        for guess in _likeliest(overview, grey, groups[0], chart, mirrored=True)
    )
    return Search(strip=None, reason=_words(chart.layout, mirrored=mirrored))


def _scales(ppi: Resolution, step: int) -> list[list[float]]:
    """Give pixels of the small picture per mm: as the file states it, then all others."""
    rungs = int(np.ceil(np.log(LADDER[1] / LADDER[0]) / np.log(LADDER_RATIO))) + 1
    ladder = [[float(LADDER[0] * LADDER_RATIO**i) / MM_PER_INCH / step for i in range(rungs)]]
    stated = stated_ppi(ppi)
    return ladder if stated is None else [[stated / MM_PER_INCH / step], *ladder]


def _likeliest(
    overview: FloatArray,
    grey: FloatArray,
    scales: list[float],
    chart: Chart,
    *,
    mirrored: bool = False,
) -> Iterator[Guess]:
    """Give the places whose colours agree best, improved, one by one."""
    guesses = [
        guess
        for scale in scales
        for guess in likely_places(grey, scale, chart.design, mirrored=mirrored)
    ]
    guesses = sorted(guesses, key=lambda guess: -guess.score)[:MOST_COMPARED]
    agreed = [
        sum(agreement(sampled_rgb(overview, guess.px_from_mm, chart.layout), chart.expected))
        for guess in guesses
    ]
    for i in np.argsort(agreed)[::-1][:MOST_LOOKED_AT]:
        yield improved(overview, guesses[i], chart.design)


def _confirmed(
    guess: Guess,
    overview: FloatArray,
    step: int,
    read: Read,
    size: tuple[int, int],
    chart: Chart,
) -> StripReading | None:
    """Look at a place in the scan itself; None if it is not the chart."""
    seen = chart.wanted.likeness(sampled_rgb(overview, guess.px_from_mm, chart.layout))
    if seen.median > FIRST_MEDIAN:
        return None
    rough = full_scale(guess.px_from_mm.copy(), step)
    region = region_round(read, size, rough, chart, margin=2.0 * step)
    exact = exact_pose(region, rough, chart.borders, chart.design.side, seen.exponent)
    if exact is None or exact.share < LEAST_SHARE:
        return None
    strip, median = reading_at(region, exact, chart)
    small = exact.px_from_mm / step
    small[:, 2] -= (step - 1) / (2 * step)
    if median > MOST_MEDIAN or median > RUNNER_UP * _runner_up(small, overview, chart):
        return None
    return strip


def _turn_is_sure(pose: FloatArray, overview: FloatArray, chart: Chart) -> bool:
    """Tell whether a pose in the small picture has the chart's colours as no other turn has."""
    median = chart.wanted.likeness(sampled_rgb(overview, pose, chart.layout)).median
    if median > MOST_MEDIAN:
        return False
    return median <= RUNNER_UP * _runner_up(pose, overview, chart)


def _runner_up(pose: FloatArray, overview: FloatArray, chart: Chart) -> float:
    """Give the least median that the chart turned otherwise, or mirrored, has at a place."""
    medians = [
        chart.wanted.likeness(sampled_rgb(overview, turned_onto(pose, turn), chart.layout)).median
        for turn in other_turns(chart.design)
    ]
    return min(medians, default=NOTHING)


def other_turns(design: Design) -> list[FloatArray]:
    """Give the maps of a chart's millimetres that put its patches on its own outline."""
    width, height = design.half
    square = abs(width - height) < SQUARE * max(width, height)
    turns = []
    for mirrored in MIRRORS:
        for quarter in range(4):
            if (quarter % 2 and not square) or (quarter == 0 and not mirrored):
                continue
            cosine, sine = [(1, 0), (0, 1), (-1, 0), (0, -1)][quarter]
            linear = np.array([[cosine, -sine], [sine, cosine]], dtype=float)
            if mirrored:
                linear = linear @ np.diag([-1.0, 1.0])
            turns.append(np.column_stack([linear, design.centre - linear @ design.centre]))
    return turns


def turned_onto(pose: FloatArray, turn: FloatArray) -> FloatArray:
    """Apply a map of millimetres before a pose."""
    linear = pose[:, :2]
    return np.column_stack([linear @ turn[:, :2], linear @ turn[:, 2] + pose[:, 2]])


def region_round(
    read: Read, size: tuple[int, int], pose: FloatArray, chart: Chart, margin: float
) -> Region:
    """Give the part of the scan round the chart's patches, and a little of what is beside."""
    design = chart.design
    reach = design.half + 0.5 * design.side
    ends = design.centre + reach * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    border = applied(pose, ends)
    return Region(read, size, border.min(axis=0) - margin, border.max(axis=0) + margin)


def reading_at(region: Region, exact: ExactPose, chart: Chart) -> tuple[StripReading, float]:
    """Read the patches; give the reading and the median CIEDE2000 of all of them."""
    layout, pose = chart.layout, exact.px_from_mm
    means = read_patches(region, pose, layout)
    inside = np.array([mean.inside for mean in means])
    rgb = np.array([mean.rgb for mean in means])
    median = chart.wanted.likeness(np.where(inside[:, None], rgb, np.nan)).median
    middles = np.array([(p.x + p.width / 2, p.y + p.height / 2) for p in layout.patches])
    strip = StripReading(
        layout=layout,
        px_from_mm=pose,
        marks_px={},
        marks_residual=exact.residual,
        centres=applied(pose, middles),
        rgb=rgb,
        spread=np.array([mean.spread for mean in means]),
        inliers=np.array([mean.inliers for mean in means]),
        clipped=np.array([mean.clipped for mean in means]),
        halves=np.array([mean.halves for mean in means]),
        usable=usable_patches(means, chart.expected),
    )
    return strip, median


def _words(layout: Layout, *, mirrored: bool) -> str:
    """Say why there is no reading, and what to do."""
    if mirrored:
        return (
            f"the chart {layout.name} is seen in mirror image: turn off mirroring in the "
            "scanner's software, lay the chart printed side to the glass, and scan again"
        )
    return (
        f"the chart {layout.name} was not found: no place in the picture shows its patches in "
        "the colours of the reference; lay it flat, straight and wholly inside the picture, and "
        "give the layout and the reference of this very chart. If it is there all the same, say "
        "where: --corners with the pixels of its four outer patch corners, clockwise from patch "
        f"{layout.patches[0].id}"
    )
