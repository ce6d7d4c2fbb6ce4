"""From a scan's grid to the canvas's: where each canvas pixel lies, and its light there.

Places are whole multiples of 1/32 scan pixel, the finest that the resampler
tells apart. Rounding them here, from double precision and on a lattice that
belongs to the canvas, makes a pixel's value the same whichever block it is in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray, Window

Mapping = Callable[[FloatArray], FloatArray]

SUBPIXELS = 32
"""Places per scan pixel; OpenCV's tables of weights have as many."""
SPACINGS = (32, 16, 8, 4, 2)
"""Canvas pixels between exactly computed places, widest first."""
LARGEST_SLIP = 0.005
"""Scan pixels by which a place between those may be off."""
PROBES = 7
"""Lines across and down the canvas along which the slip is measured."""
REACH = 4
"""Scan pixels on either side that the Lanczos kernel takes in."""
OVERSHOOT = 0.1
"""How far beyond the samples around it, in shares of their range, light may go.

An ideal edge overshoots by 13 % of its height, an edge blurred by any real lens
(Gauss, 0.6 px) by 0.4 %: a tenth cuts only what no scanner sees.
"""
UNDERSHOOT = 0.5
"""Share of the darkest sample by which light may go below it.

In linear light a dark line's undershoot beside white is small in number and
black to the eye.
"""
_NO_FRACTION: Any = None  # OpenCV's type hints do not know that it may be absent
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

    def within(self, window: Window) -> NDArray[np.bool_]:
        """Tell which places lie inside a window of the scan, pixels taken as squares."""
        half = SUBPIXELS // 2
        left, top = window.column * SUBPIXELS - half, window.row * SUBPIXELS - half
        right, bottom = left + window.width * SUBPIXELS, top + window.height * SUBPIXELS
        across = (self.x >= left) & (self.x <= right)
        inside: NDArray[np.bool_] = across & (self.y >= top) & (self.y <= bottom)
        return inside

    def needed(self, width: int, height: int) -> Window | None:
        """Give the window of a scan of this size that resampling takes in, if any."""
        left = max(int(self.x.min()) // SUBPIXELS - REACH, 0)
        top = max(int(self.y.min()) // SUBPIXELS - REACH, 0)
        right = min(int(self.x.max()) // SUBPIXELS + REACH + 2, width)
        bottom = min(int(self.y.max()) // SUBPIXELS + REACH + 2, height)
        if left >= right or top >= bottom:
            return None
        return Window(row=top, column=left, height=bottom - top, width=right - left)


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


def places(scan_from_canvas: Mapping, window: Window, spacing: int) -> Places:
    """Find where every pixel of a canvas window lies in a scan.

    Parameters
    ----------
    scan_from_canvas : callable
        Canvas pixels (N, 2) to scan pixels.
    window : Window
        Of the canvas.
    spacing : int
        From `lattice_spacing`.
    """
    rows, down = _lattice(window.row, window.height, spacing)
    columns, right = _lattice(window.column, window.width, spacing)
    grid = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    exact = scan_from_canvas(grid.astype(float)) * SUBPIXELS
    x, y = (
        _between(_between(part.reshape(len(rows), -1).T, down, spacing).T, right, spacing)
        for part in exact.T
    )
    return Places(x=_rounded(x), y=_rounded(y))


def _rounded(values: FloatArray) -> NDArray[np.int32]:
    # The shift keeps places that are meant to lie midway from being decided by noise.
    rounded: NDArray[np.int32] = np.floor(values + (0.5 + 1e-6)).astype(np.int32)
    return rounded


def _lattice(start: int, length: int, spacing: int) -> tuple[NDArray[np.int64], slice]:
    """Lattice places around ``length`` pixels from ``start``; which pixels those are."""
    first, last = start // spacing, -(-(start + length) // spacing)
    knots = np.arange(first - 1, last + 2) * spacing
    offset = start - first * spacing
    return knots, slice(offset, offset + length)


def _between(exact: FloatArray, wanted: slice, spacing: int) -> FloatArray:
    """Fill in every pixel along the last axis, ends cut to those wanted."""
    shares = np.arange(spacing) / spacing
    weights = _CUBIC @ np.vander(shares, 4, increasing=True).T
    parts = np.lib.stride_tricks.sliding_window_view(exact, 4, axis=1)
    # A stack of small products: one large product would wake the library's own
    # threads, which get in the way of ours.
    filled: FloatArray = np.ascontiguousarray(parts) @ weights
    return filled.reshape(len(exact), -1)[:, wanted]


def resampled(
    light: NDArray[np.float32], where: Places, row: int, column: int
) -> NDArray[np.float32]:
    """Give the light at places of a scan: Lanczos over 8 × 8 pixels.

    Where all places are pixel centres the pixels are copied, bit for bit.

    Parameters
    ----------
    light : ndarray of float32, shape (h, w, 3)
        A window of the scan that holds `Places.needed`.
    where : Places
        In the whole scan.
    row, column : int
        Of the window's first pixel in the scan.

    Returns
    -------
    ndarray of float32, shape (height, width, 3)
        Beyond the window its edge holds.
    """
    import cv2

    mask, shift = SUBPIXELS - 1, SUBPIXELS.bit_length() - 1
    whole = np.empty((*where.x.shape, 2), np.int16)
    # Places far outside, which nobody will use, must not wrap around.
    whole[..., 0] = np.clip((where.x >> shift) - column, -REACH, light.shape[1] + REACH)
    whole[..., 1] = np.clip((where.y >> shift) - row, -REACH, light.shape[0] + REACH)
    part = ((where.y & mask) * SUBPIXELS + (where.x & mask)).astype(np.uint16)
    edge = cv2.BORDER_REPLICATE
    if not part.any():
        return np.asarray(cv2.remap(light, whole, _NO_FRACTION, cv2.INTER_NEAREST, borderMode=edge))
    sharp = cv2.remap(light, whole, part, cv2.INTER_LANCZOS4, borderMode=edge)
    return _limited(np.asarray(sharp), light, whole)


def _limited(
    sharp: NDArray[np.float32], light: NDArray[np.float32], whole: NDArray[np.int16]
) -> NDArray[np.float32]:
    """Keep light near the range of the 4 × 4 samples around each place; in place."""
    import cv2

    around, edge = np.ones((4, 4), np.uint8), cv2.BORDER_REPLICATE

    def nearest(picture: NDArray[np.float32]) -> NDArray[np.float32]:
        near = cv2.remap(picture, whole, _NO_FRACTION, cv2.INTER_NEAREST, borderMode=edge)
        return np.asarray(near)

    low, high = (
        np.asarray(find(light, around, anchor=(1, 1), borderType=edge))
        for find in (cv2.erode, cv2.dilate)
    )
    ceiling = cv2.addWeighted(high, 1 + OVERSHOOT, low, -OVERSHOOT, 0)
    floor = cv2.addWeighted(low, 1 + OVERSHOOT, high, -OVERSHOOT, 0, dst=high)
    # Light below nothing is cut by the encoder: lifting it half way harms nobody.
    floor = cv2.max(floor, np.multiply(low, 1 - UNDERSHOOT, out=low), dst=high)
    cv2.min(sharp, nearest(np.asarray(ceiling)), dst=sharp)
    cv2.max(sharp, nearest(np.asarray(floor)), dst=sharp)
    return sharp


def stretched(grid: NDArray[np.float32], step: float, window: Window) -> NDArray[np.float32]:
    """Give a coarse grid's value at every pixel of a window, linear between.

    Parameters
    ----------
    grid : ndarray of shape (h, w) or (h, w, 3)
        Values at the centres of squares of ``step`` pixels.
    step : float
        Pixels per grid step.
    window : Window
        Of the picture the grid covers.

    Returns
    -------
    ndarray of float32, shape (height, width, 1 or 3)
        Beyond the outermost centres their value holds.
    """
    upper, down = _between_centres(window.row, window.height, step, grid.shape[0])
    left, across = _between_centres(window.column, window.width, step, grid.shape[1])
    near = grid[upper[0] : upper[-1] + 2].reshape(-1, grid.shape[1], grid[0, 0].size)
    near = near[:, left] + across[None, :, None] * (
        near[:, np.minimum(left + 1, grid.shape[1] - 1)] - near[:, left]
    )
    flat = near.reshape(len(near), -1)
    filled: NDArray[np.float32] = np.empty((window.height, flat.shape[1]), np.float32)
    upper -= upper[0]
    # Rows between the same two grid rows at a time: no grid row is copied.
    for above in range(int(upper[-1]) + 1):
        rows = slice(*np.searchsorted(upper, (above, above + 1)))
        below = flat[min(above + 1, len(flat) - 1)]
        np.multiply(down[rows, None], below - flat[above], out=filled[rows])
        filled[rows] += flat[above]
    return filled.reshape(window.height, window.width, -1)


def _between_centres(
    start: int, length: int, step: float, count: int
) -> tuple[NDArray[np.intp], NDArray[np.float32]]:
    """Grid place before each pixel, and how far beyond it the pixel lies."""
    at = (np.arange(start, start + length) - (step - 1) / 2) / step
    at = np.clip(at, 0, count - 1)
    low = np.minimum(at.astype(np.intp), max(count - 2, 0))
    return low, (at - low).astype(np.float32)
