"""Where each canvas pixel lies in a scan.

Places are whole multiples of 1/32 scan pixel, the finest that the resampler
tells apart. Rounding them here, from double precision and on a lattice that
belongs to the canvas, makes a place the same whichever window it is in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from colormatch.compiled.resampling import SUBPIXELS
from colormatch.model import FloatArray, Window

Mapping = Callable[[FloatArray], FloatArray]

REACH = 4
"""Scan pixels on either side that the Lanczos kernel takes in."""
SPACINGS = (32, 16, 8, 4, 2)
"""Canvas pixels between exactly computed places, widest first."""
LARGEST_SLIP = 0.005
"""Scan pixels by which a place between those may be off."""
PROBES = 7
"""Lines across and down the canvas along which the slip is measured."""
PATCH = 64
"""Exact places computed at a time, along either side: one by one costs more in calls."""
KEPT = 32
"""Patches of them held, 64 KB each."""
_FAR = 2**24
"""Makes places positive, so that cutting off their decimals rounds them down."""
# Lagrange's cubic through four evenly spaced places, for a place t between the
# second and the third.
_CUBIC = np.array([[0, -1 / 3, 1 / 2, -1 / 6], [1, -1 / 2, -1, 1 / 2], [0, 1, 1 / 2, -1 / 2],
                   [0, -1 / 6, 0, 1 / 6]])  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)
class Places:
    """Where the pixels of a canvas window lie in a scan.

    Attributes
    ----------
    x, y : ndarray of int32, shape (height, width)
        Scan pixels times `SUBPIXELS`.
    """

    x: NDArray[np.int32]
    y: NDArray[np.int32]

    @cached_property
    def extremes(self) -> tuple[int, int, int, int]:
        """Least x and y, greatest x and y."""
        ends = self.x.min(), self.y.min(), self.x.max(), self.y.max()
        left, top, right, bottom = (int(end) for end in ends)
        return left, top, right, bottom

    def within(self, window: Window) -> NDArray[np.bool_]:
        """Tell which places lie inside a window of the scan, pixels taken as squares."""
        half = SUBPIXELS // 2
        left, top = window.column * SUBPIXELS - half, window.row * SUBPIXELS - half
        right, bottom = left + window.width * SUBPIXELS, top + window.height * SUBPIXELS
        least_x, least_y, most_x, most_y = self.extremes
        if left <= least_x and most_x <= right and top <= least_y and most_y <= bottom:
            return np.ones(self.x.shape, np.bool_)
        across = (self.x >= left) & (self.x <= right)
        inside: NDArray[np.bool_] = across & (self.y >= top) & (self.y <= bottom)
        return inside

    def needed(self, width: int, height: int) -> Window | None:
        """Give the window of a scan of this size that resampling takes in, if any."""
        least_x, least_y, most_x, most_y = self.extremes
        left = max(least_x // SUBPIXELS - REACH, 0)
        top = max(least_y // SUBPIXELS - REACH, 0)
        right = min(most_x // SUBPIXELS + REACH + 2, width)
        bottom = min(most_y // SUBPIXELS + REACH + 2, height)
        if left >= right or top >= bottom:
            return None
        return Window(row=top, column=left, height=bottom - top, width=right - left)


class Lattice:
    """A mapping computed exactly on a lattice of the canvas, and interpolated between.

    Parameters
    ----------
    scan_from_canvas : callable
        Canvas pixels (N, 2) to scan pixels, smooth.
    spacing : int
        Canvas pixels between exact places, from `lattice_spacing`.
    """

    def __init__(self, scan_from_canvas: Mapping, spacing: int) -> None:
        self.spacing = spacing

        @lru_cache(maxsize=KEPT)
        def patch(down: int, right: int) -> FloatArray:
            rows, columns = (np.arange(PATCH) + n * PATCH for n in (down, right))
            grid = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
            exact = scan_from_canvas(grid * float(spacing)) * SUBPIXELS
            return exact.T.reshape(2, PATCH, PATCH)

        self._patch = patch

    def exact(self, row: int, column: int, rows: int, columns: int) -> FloatArray:
        """Give x and y, scan pixels times `SUBPIXELS`, at lattice places: (2, rows, columns)."""
        found = np.empty((2, rows, columns))
        for down in range(row // PATCH, (row + rows - 1) // PATCH + 1):
            for right in range(column // PATCH, (column + columns - 1) // PATCH + 1):
                into_rows, from_rows = _shared(down, row, rows)
                into_columns, from_columns = _shared(right, column, columns)
                patch = self._patch(down, right)
                found[:, into_rows, into_columns] = patch[:, from_rows, from_columns]
        return found

    def places(self, window: Window) -> Places:
        """Find where every pixel of a canvas window lies in the scan."""
        row, rows, down = _around(window.row, window.height, self.spacing)
        column, columns, right = _around(window.column, window.width, self.spacing)
        exact = self.exact(row, column, rows, columns)
        across = _between(np.swapaxes(exact, 1, 2), right, self.spacing)
        filled = _between(np.ascontiguousarray(np.swapaxes(across, 1, 2)), down, self.spacing)
        # A hair more than half keeps places meant to lie midway from being decided by noise.
        filled += _FAR + 0.5 + 1e-6
        whole = filled.astype(np.int32)
        whole -= _FAR
        return Places(x=whole[0], y=whole[1])


def lattice(scan_from_canvas: Mapping, width: int, height: int) -> Lattice:
    """Prepare a mapping for a canvas of this size."""
    return Lattice(scan_from_canvas, lattice_spacing(scan_from_canvas, width, height))


def lattice_spacing(scan_from_canvas: Mapping, width: int, height: int) -> int:
    """Choose how many canvas pixels apart places must be computed exactly.

    Parameters
    ----------
    scan_from_canvas : callable
        Canvas pixels (N, 2) to scan pixels, smooth.
    width, height : int
        Of the canvas.

    Returns
    -------
    int
        The widest of `SPACINGS` whose cubic interpolation keeps to
        `LARGEST_SLIP`; 1 if none does.
    """
    for spacing in SPACINGS:
        if _slip(scan_from_canvas, width, height, spacing) <= LARGEST_SLIP:
            return spacing
    return 1


def _slip(scan_from_canvas: Mapping, width: int, height: int, spacing: int) -> float:
    """Largest error midway between lattice places, along a few lines."""
    worst = 0.0
    for axis, (along, across) in enumerate(((width, height), (height, width))):
        steps = np.arange(-2 * spacing, along + 2 * spacing + 1, spacing / 2)
        for other in np.linspace(0, across - 1, PROBES):
            line = np.full((len(steps), 2), other)
            line[:, axis] = steps
            exact = scan_from_canvas(line)
            knots, between = exact[::2], exact[1::2]
            guess = (9 * (knots[1:-2] + knots[2:-1]) - knots[:-3] - knots[3:]) / 16
            worst = max(worst, float(np.abs(between[1 : 1 + len(guess)] - guess).max()))
    return worst


def _shared(patch: int, first: int, count: int) -> tuple[slice, slice]:
    """Which of ``count`` lattice places from ``first`` a patch holds: there, and in it."""
    low, high = max(patch * PATCH, first), min((patch + 1) * PATCH, first + count)
    return slice(low - first, high - first), slice(low - patch * PATCH, high - patch * PATCH)


def _around(start: int, length: int, spacing: int) -> tuple[int, int, slice]:
    """Give the first lattice place needed for pixels, how many, and which pixels those are."""
    first, last = start // spacing, -(-(start + length) // spacing)
    offset = start - first * spacing
    return first - 1, last - first + 3, slice(offset, offset + length)


def _between(exact: FloatArray, wanted: slice, spacing: int) -> FloatArray:
    """Fill in every pixel along the middle axis of (2, n, m), ends cut to those wanted."""
    # Four neighbours for each gap, as copies: numpy's own sliding view takes longer to make.
    fours = np.stack([exact[:, k : exact.shape[1] - 3 + k] for k in range(4)], axis=2)
    # A stack of small products: one large product would wake the library's own
    # threads, which get in the way of ours.
    filled: FloatArray = _weights(spacing) @ fours
    return filled.reshape(2, -1, exact.shape[2])[:, wanted]


@cache
def _weights(spacing: int) -> FloatArray:
    """Give those of four lattice places for each pixel between, (spacing, 4)."""
    powers: FloatArray = np.vander(np.arange(spacing) / spacing, 4, increasing=True)
    return np.asarray(powers @ _CUBIC.T)
