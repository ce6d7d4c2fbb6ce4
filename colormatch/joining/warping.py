"""A scan's light at places of the canvas, and coarse grids at every pixel."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.compiled import library
from colormatch.compiled.grids import between_centres
from colormatch.compiled.resampling import SUBPIXELS, resample
from colormatch.joining.places import REACH, Places
from colormatch.model import Window

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


def resampled(
    light: NDArray[np.float32], where: Places, row: int, column: int
) -> NDArray[np.float32]:
    """Give the light at places of a scan: Lanczos over 8 × 8 pixels.

    Where a place is a pixel's centre the pixel is copied, bit for bit.

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
    if library.available():
        places, corner = (where.x, where.y), (row, column)
        return resample(light, places, corner, overshoot=OVERSHOOT, undershoot=UNDERSHOOT)
    return _remapped(light, where, row, column)


def _remapped(
    light: NDArray[np.float32], where: Places, row: int, column: int
) -> NDArray[np.float32]:
    """Do as `resampled` does with OpenCV's loops, in several passes."""
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
    upper, down = between_centres(window.row, window.height, step, grid.shape[0])
    left, across = between_centres(window.column, window.width, step, grid.shape[1])
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
