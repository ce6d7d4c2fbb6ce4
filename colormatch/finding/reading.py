"""Robust means of patches, from the scan at full resolution."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.finding.agreement import linear_map
from colormatch.finding.poses import applied
from colormatch.model import FloatArray, Layout, Patch, Window

INNER = 0.58
"""Share of a patch's side that is read: edges bleed, and are never quite in place."""

REJECT = 3.5
"""Scaled median absolute deviations beyond which a pixel is dust."""

TRIMMED = 0.1
"""Share of the remaining pixels left out at each end of the mean."""

LEAST_NOISE = 0.004
"""Of encoded values: one 8-bit code."""

MOST_CLIPPED = 0.1
LEAST_INLIERS = 0.5

MOST_HALVES = 0.1
"""Difference of encoded values between halves of a patch that no light makes."""

FAR, VERY_FAR = 4.0, 8.0
"""Robust standard deviations from the colour the other patches foretell: suspect
together with few inliers or unlike halves, and enough by itself."""

FAR_FLOOR, VERY_FAR_FLOOR = 0.1, 0.2
"""The same in encoded values, for a print that agrees closely."""

SUSPECT_INLIERS, SUSPECT_HALVES = 0.93, 0.03

Pixels = NDArray[np.uint8] | NDArray[np.uint16]
Read = Callable[[Window], Pixels]


@dataclass(frozen=True, kw_only=True, eq=False)
class PatchMean:
    """One patch as read; fields as in `StripReading`."""

    rgb: FloatArray
    spread: FloatArray
    inliers: float
    clipped: float
    halves: FloatArray
    inside: bool


OUTSIDE = PatchMean(
    rgb=np.zeros(3),
    spread=np.zeros(3),
    inliers=0.0,
    clipped=0.0,
    halves=np.zeros((2, 3)),
    inside=False,
)


class Region:
    """The part of a scan round a strip, read once if it is not too large."""

    MOST_PIXELS = 32_000_000

    def __init__(
        self, read: Read, size: tuple[int, int], low: FloatArray, high: FloatArray
    ) -> None:
        self.read, self.size = read, size
        self.window, self.pixels = self._clipped(low, high), None
        if 0 < self.window.width * self.window.height <= self.MOST_PIXELS:
            self.pixels = read(self.window)

    def cut(self, low: FloatArray, high: FloatArray) -> tuple[Pixels, int, int]:
        """Give the pixels between two corners, as far as there are any, and their origin."""
        window = self._clipped(low, high)
        if self.pixels is None:
            values = self.read(window) if window.width * window.height else _NOTHING
            return values, window.row, window.column
        top, left = window.row - self.window.row, window.column - self.window.column
        inside = self.pixels[max(top, 0) : top + window.height, max(left, 0) : left + window.width]
        return inside, max(window.row, self.window.row), max(window.column, self.window.column)

    def _clipped(self, low: FloatArray, high: FloatArray) -> Window:
        size = np.array(self.size)
        left, top = (int(v) for v in np.clip(np.floor(low), 0, size))
        right, bottom = (int(v) for v in np.clip(np.ceil(high) + 1, 0, size))
        return Window(row=top, column=left, height=max(bottom - top, 0), width=max(right - left, 0))


_NOTHING = np.zeros((0, 0, 3), dtype=np.uint8)


def read_patch(region: Region, px_from_mm: FloatArray, patch: Patch) -> PatchMean:
    """Read one patch.

    Parameters
    ----------
    region : Region
        Where the pixels are.
    px_from_mm : ndarray of shape (2, 3)
        Pose in the scan.
    patch : Patch
        Which one.

    Returns
    -------
    PatchMean
        Not ``inside`` if any part of what is to be read lies outside the scan.
    """
    centre = np.array([patch.x + patch.width / 2, patch.y + patch.height / 2])
    half = INNER / 2 * np.array([patch.width, patch.height])
    box = applied(px_from_mm, centre + half * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]))
    low, high = box.min(axis=0), box.max(axis=0)
    if (low < -0.5).any() or (high > np.array(region.size) - 0.5).any():
        return OUTSIDE
    pixels, top, left = region.cut(low, high)
    height, width = pixels.shape[:2]
    middle = applied(px_from_mm, centre)
    x, y = np.arange(width) + left - middle[0], np.arange(height) + top - middle[1]
    along_x, along_y = np.linalg.inv(px_from_mm[:, :2]).T / half
    away = along_x[:, None, None] * x + along_y[:, None, None] * y[:, None]
    inner = (np.abs(away[0]) <= 1) & (np.abs(away[1]) <= 1)
    if inner.sum() < 9:
        return OUTSIDE
    return patch_mean(pixels[inner], away[:, inner].T)


def patch_mean(codes: Pixels, away: FloatArray) -> PatchMean:
    """Give the robust mean of a patch's pixels, and how far to trust it.

    Parameters
    ----------
    codes : ndarray of uint8 or uint16, shape (K, 3)
        Pixels.
    away : ndarray of shape (K, 2)
        Their places on the patch, from its middle, along its own axes.
    """
    top = np.iinfo(codes.dtype).max
    # A channel after the other: medians and means run along memory then.
    planes: NDArray[Any] = np.ascontiguousarray(codes.T)
    values = planes / np.float64(top)
    clipped = float(np.mean(((planes == 0) | (planes == top)).any(axis=0)))
    off: FloatArray = np.abs(values - np.median(values, axis=1)[:, None])
    spread = 1.4826 * np.median(off, axis=1)
    limit = REJECT * np.maximum(spread, LEAST_NOISE)
    kept = np.asarray((off <= limit[:, None]).all(axis=0))
    if kept.sum() < 9:
        kept[:] = True
    inner, place = values[:, kept], away[kept]
    halves = [_halves(inner, place[:, axis]) for axis in (0, 1)]
    return PatchMean(
        rgb=trimmed_mean(inner.T),
        spread=spread,
        inliers=float(kept.mean()),
        clipped=clipped,
        halves=np.array(halves),
        inside=True,
    )


def trimmed_mean(values: FloatArray) -> FloatArray:
    """Give the mean along the first axis without the `TRIMMED` share at each end."""
    count = len(values)
    cut = int(TRIMMED * count)
    lines = np.ascontiguousarray(values.T)
    ordered = np.partition(lines, [cut, count - cut - 1], axis=-1) if cut else lines
    mean: FloatArray = ordered[..., cut : count - cut].mean(axis=-1)
    return mean


def _halves(values: FloatArray, place: FloatArray) -> FloatArray:
    """Give the mean of the farther half of (3, K) minus that of the nearer one."""
    far = place > 0
    count = int(far.sum())
    if count in (0, len(far)):
        return np.zeros(3)
    beyond: FloatArray = np.einsum("ck,k->c", values, far)
    near = values.sum(axis=1) - beyond
    difference: FloatArray = beyond / count - near / (len(far) - count)
    return difference


def read_patches(region: Region, px_from_mm: FloatArray, layout: Layout) -> list[PatchMean]:
    """Read all patches of a strip."""
    return [read_patch(region, px_from_mm, patch) for patch in layout.patches]


def usable_patches(means: list[PatchMean], expected: FloatArray) -> NDArray[np.bool_]:
    """Tell which patches can be trusted.

    Parameters
    ----------
    means : list of PatchMean
        One for each patch.
    expected : ndarray of shape (N, 3)
        Their nominal colours, encoded; NaN where unknown.

    Returns
    -------
    ndarray of bool, shape (N,)
        False where a patch is outside the scan, clipped, or covered: mixed, or of a
        colour far from what the others foretell.
    """
    inside = np.array([mean.inside for mean in means])
    inliers = np.array([mean.inliers for mean in means])
    halves = np.array([np.abs(mean.halves).max() for mean in means])
    clipped = np.array([mean.clipped for mean in means])
    rgb = np.where(inside[:, None], [mean.rgb for mean in means], np.nan)
    away, noise = _surprise(rgb, expected)
    suspect = (inliers < SUSPECT_INLIERS) | (halves > SUSPECT_HALVES)
    covered = (
        (inliers < LEAST_INLIERS)
        | (halves > MOST_HALVES)
        | (away > max(VERY_FAR * noise, VERY_FAR_FLOOR))
        | (suspect & (away > max(FAR * noise, FAR_FLOOR)))
    )
    result: NDArray[np.bool_] = inside & ~covered & (clipped <= MOST_CLIPPED)
    return result


def _surprise(rgb: FloatArray, expected: FloatArray) -> tuple[FloatArray, float]:
    """Give how far each patch is from what the others foretell, and the usual distance."""
    residuals, kept = linear_map(rgb, expected, bent=True)
    if not kept.any():
        return np.zeros(len(rgb)), 1.0
    away = np.nan_to_num(np.linalg.norm(residuals, axis=1))
    return away, 1.4826 * float(np.median(away[np.isfinite(residuals).all(axis=1)]))
