"""Compare two tiles in many small blocks of what they share.

The coarser tile's block is taken as it is; the other's is brought to its
frame with a cubic spline, after the band-pass has removed what a cubic spline
would alter. Then, at the places found, once more: what remains is a small
fraction of a pixel, where window and resampling have no bias.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray, Window
from colormatch.placing.poses import Pose
from colormatch.placing.resampling import square
from colormatch.placing.robust import robust_affine
from colormatch.placing.shifts import Shifts, Template
from colormatch.placing.splines import picture_coefficients
from colormatch.placing.tiles import View, band_passed

FINE = 1.2
"""Sigma of the blur that takes out what pixels cannot carry, pixels."""
COARSE = 9.0
"""Sigma of the blur that is subtracted, pixels."""
MARGIN = 22
"""Read round each block so that the blurs start from true neighbours, pixels."""
SPLINE_REACH = 6
"""A cubic spline's coefficients are those of the endless picture this far inside."""
BATCH = 32
FLOOR = 0.004
"""Error of a block beyond its noise (resampling, glare), pixels, one sigma."""
WEAK = 0.25
"""Direction known worse than this is left to the other blocks, pixels."""
LEAST_PEAK = 0.3
"""Correlation below which a block is not believed."""
AGREEING = 3.0
"""Distance from the other blocks' common map within which a find is kept, pixels."""
LEAST_TRUSTED = 3
BAND_PIXELS = 8_000_000
"""Rows of windows are read together up to this many pixels."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Matches:
    """Places of the first tile found again in the second.

    Attributes
    ----------
    first, second : ndarray of shape (K, 2)
        Scan pixels (x, y) of each.
    information : ndarray of shape (K, 2, 2)
        Inverse covariance of the place in the first tile's scan pixels; zero
        along a direction that the block does not show.
    peak : ndarray of shape (K,)
        Correlation coefficient.
    tried : int
        How many blocks were compared.
    """

    first: FloatArray
    second: FloatArray
    information: FloatArray
    peak: FloatArray
    tried: int


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Side of a block (even) and largest shift looked for, pixels of the view."""

    side: int
    search: int


def compare(
    first: View, second: View, poses: tuple[Pose, Pose], centres: FloatArray, plan: Plan
) -> Matches:
    """Find blocks of the first view again in the second.

    Parameters
    ----------
    first, second : View
        The first is the coarser, in millimetres per pixel.
    poses : tuple of Pose
        Good to ``plan.search`` pixels.
    centres : ndarray of shape (K, 2)
        Scan pixels of the first tile.
    plan : Plan
        Size of blocks and of the search.
    """
    corner = np.round(first.view_from_scan(centres)).astype(int) - plan.side // 2
    corner = np.clip(corner, 0, np.array(first.size) - plan.side)
    middle = corner + (plan.side - 1) / 2.0
    places = first.scan_from_view(middle)
    there, linear = predicted(first, second, poses, places)
    ratio = float(np.sqrt(np.abs(np.linalg.det(linear)).mean())) if len(linear) else 1.0
    ours = _Templates(_own_blocks(first, corner, plan.side))
    theirs = _Patches(second, there, linear, plan, ratio)
    shift, peak = ours.found(theirs, there, linear, plan.search)
    there, linear, good = _recentred(middle, there, linear, shift, peak)
    found = ours.measured(theirs, there, linear, max(3, plan.search // 4))
    there = there + np.einsum("kij,kj->ki", linear, found.shift)
    information = _information(found, first.step)
    kept = good & (found.peak > LEAST_PEAK) & (information.any(axis=(1, 2)))
    return Matches(
        first=places[kept],
        second=second.scan_from_view(there)[kept],
        information=information[kept],
        peak=found.peak[kept],
        tried=len(centres),
    )


def predicted(
    first: View, second: View, poses: tuple[Pose, Pose], places: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Where places lie in the second view, and the local 2×2 map between views."""

    def mapped(points: FloatArray) -> FloatArray:
        painting = poses[0].painting_from_scan(points)
        return second.view_from_scan(poses[1].scan_from_painting(painting))

    arms = 8.0 * first.step * np.eye(2)
    there = mapped(places)
    along_x, along_y = ((mapped(places + arm) - mapped(places - arm)) / 16.0 for arm in arms)
    return there, np.stack([along_x, along_y], axis=-1)


def _own_blocks(view: View, corner: NDArray[np.intp], side: int) -> FloatArray:
    """Band-passed blocks (K, side, side) of the first view."""
    windows = [Window(row=int(y), column=int(x), height=side, width=side) for x, y in corner]
    blocks = np.empty((len(corner), side, side), dtype=np.float32)
    for group, band, detail in _bands(view, windows, 1.0):
        for k in group:
            blocks[k] = detail[_part(windows[k], band)]
    return blocks


def _part(window: Window, band: Window) -> tuple[slice, slice]:
    """Rows and columns of a window within a band."""
    row, column = window.row - band.row, window.column - band.column
    return slice(row, row + window.height), slice(column, column + window.width)


def _clipped(view: View, low: FloatArray, high: FloatArray) -> Window:
    """Window from low to high (x, y), cut to the view."""
    size = np.array(view.size)
    low = np.clip(np.floor(low).astype(int), 0, size - 1)
    high = np.clip(np.ceil(high).astype(int), low + 1, size)
    width, height = high - low
    return Window(row=int(low[1]), column=int(low[0]), height=int(height), width=int(width))


def _bands(
    view: View, windows: list[Window], ratio: float
) -> Iterator[tuple[list[int], Window, NDArray[np.float32]]]:
    """Band-passed light round neighbouring windows: which they are, where, and the light.

    ``ratio`` is how many pixels of this view the blurs' unit has.
    """
    margin = int(np.ceil(MARGIN * ratio))
    order = sorted(range(len(windows)), key=lambda k: (windows[k].row, windows[k].column))
    while order:
        group = [order[0]]
        hull = windows[order[0]]
        separate = hull.height * hull.width
        for k in order[1:]:
            wider = _hull([hull, windows[k]])
            separate += windows[k].height * windows[k].width
            if not _worth_reading(wider, separate, view):
                break
            group.append(k)
            hull = wider
        corner = np.array([hull.column, hull.row])
        end = corner + np.array([hull.width, hull.height])
        band = _clipped(view, corner - margin, end + margin)
        detail = band_passed(view.log(band), FINE * ratio, COARSE * ratio)
        yield group, band, detail
        order = order[len(group) :]


def _hull(windows: list[Window]) -> Window:
    row, column = min(w.row for w in windows), min(w.column for w in windows)
    bottom = max(w.row + w.height for w in windows)
    right = max(w.column + w.width for w in windows)
    return Window(row=row, column=column, height=bottom - row, width=right - column)


def _worth_reading(hull: Window, separate: int, view: View) -> bool:
    """Whether one read for all is no more than twice what they need, and not too large."""
    area = hull.height * hull.width
    return area <= 2 * separate and area * view.step**2 <= BAND_PIXELS


class _Patches:
    """Second view round each block, as spline coefficients."""

    def __init__(
        self, view: View, there: FloatArray, linear: FloatArray, plan: Plan, ratio: float
    ) -> None:
        reach = np.abs(linear).sum(axis=2) * plan.side / 2.0
        reach += (plan.search + SPLINE_REACH) * ratio + SPLINE_REACH
        self.windows = [_clipped(view, t - r, t + r + 1) for t, r in zip(there, reach, strict=True)]
        self.splines = [np.zeros((1, 1), dtype=np.float32)] * len(there)
        self.side = plan.side
        for group, band, detail in _bands(view, self.windows, ratio):
            spline = picture_coefficients(detail)
            for k in group:
                self.splines[k] = spline[_part(self.windows[k], band)]

    def resampled(self, k: int, there: FloatArray, linear: FloatArray) -> FloatArray:
        """Block whose middle lies at ``there``, in the first view's frame."""
        middle = there - (self.windows[k].column, self.windows[k].row)
        return square(self.splines[k], middle, linear, self.side)


class _Templates:
    """First view's blocks, compared a few at a time."""

    def __init__(self, blocks: FloatArray) -> None:
        starts = range(0, len(blocks), BATCH)
        self.batches = [Template(blocks[start : start + BATCH]) for start in starts]

    def found(
        self, theirs: _Patches, there: FloatArray, linear: FloatArray, search: int
    ) -> tuple[FloatArray, FloatArray]:
        """Shifts (K, 2) and peaks (K,) of a first look."""
        looks = [
            batch.found(blocks, search) for batch, blocks in self._resampled(theirs, there, linear)
        ]
        if not looks:
            return np.zeros((0, 2)), np.zeros(0)
        shift, peak = zip(*looks, strict=True)
        return np.concatenate(shift), np.concatenate(peak)

    def measured(
        self, theirs: _Patches, there: FloatArray, linear: FloatArray, search: int
    ) -> Shifts:
        """Shifts with all that is known of them."""
        parts = [
            batch.measured(blocks, search)
            for batch, blocks in self._resampled(theirs, there, linear)
        ]
        if not parts:
            return Shifts(shift=np.zeros((0, 2)), covariance=np.zeros((0, 2, 2)), peak=np.zeros(0))
        return Shifts(
            shift=np.concatenate([p.shift for p in parts]),
            covariance=np.concatenate([p.covariance for p in parts]),
            peak=np.concatenate([p.peak for p in parts]),
        )

    def _resampled(
        self, theirs: _Patches, there: FloatArray, linear: FloatArray
    ) -> Iterator[tuple[Template, FloatArray]]:
        """Batches, each with the second view's blocks in its frame."""
        start = 0
        for batch in self.batches:
            these = range(start, start + len(batch.blocks))
            yield batch, np.stack([theirs.resampled(k, there[k], linear[k]) for k in these])
            start = these.stop


def _recentred(
    middle: FloatArray,
    there: FloatArray,
    linear: FloatArray,
    shift: FloatArray,
    peak: FloatArray,
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Better places and local maps after the first look; which blocks take part.

    A block's own find is used where it agrees with the others, theirs where
    it has none.
    """
    trusted = peak > LEAST_PEAK
    if trusted.sum() < LEAST_TRUSTED:
        return there + np.einsum("kij,kj->ki", linear, shift), linear, trusted
    seen = middle + shift
    change, inlier = robust_affine(middle[trusted], seen[trusted], reach=AGREEING)
    expected = middle @ change[:, :2].T + change[:, 2]
    own = np.zeros(len(middle), dtype=bool)
    own[trusted] = inlier
    step = np.where(own[:, None], seen, expected) - middle
    everywhere = np.ones(len(middle), dtype=np.bool_)
    return there + np.einsum("kij,kj->ki", linear, step), linear @ change[:, :2], everywhere


def _information(found: Shifts, step: int) -> FloatArray:
    """Inverse covariance in scan pixels, directions that are not seen left out."""
    values, vectors = np.linalg.eigh(found.covariance)
    precise = np.where(values < WEAK**2, 1.0 / (np.maximum(values, 0.0) + FLOOR**2), 0.0)
    result: FloatArray = np.einsum("kij,kj,klj->kil", vectors, precise, vectors) / step**2
    return result
