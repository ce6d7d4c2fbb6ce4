"""Light between pixels, by compiled loops: as OpenCV's remap and a bound, in one pass."""

from __future__ import annotations

import ctypes
from functools import cache

import numpy as np
from numpy.typing import NDArray

from colormatch.compiled.library import address, loops

SUBPIXELS = 32
"""Places per pixel, as in the loops; OpenCV's tables of weights have as many."""
TAPS = 8
BEFORE = 3
"""Samples before the one at or left of a place."""


class _Window(ctypes.Structure):
    """What the loops know of a window; the order is theirs."""

    _fields_ = (
        ("light", ctypes.c_void_p),
        ("height", ctypes.c_int),
        ("width", ctypes.c_int),
        ("channels", ctypes.c_int),
        ("row", ctypes.c_int),
        ("column", ctypes.c_int),
        ("weights", ctypes.c_void_p),
        ("overshoot", ctypes.c_float),
        ("undershoot", ctypes.c_float),
    )


def resample(
    light: NDArray[np.float32],
    places: tuple[NDArray[np.int32], NDArray[np.int32]],
    corner: tuple[int, int],
    *,
    overshoot: float,
    undershoot: float,
) -> NDArray[np.float32]:
    """Give light at places of a scan: Lanczos over 8 × 8 pixels, bounded.

    Parameters
    ----------
    light : ndarray of float32, shape (h, w) or (h, w, 3)
        A window of the scan; beyond it its edge holds.
    places : pair of ndarray of int32, shape (height, width)
        Column and row in the scan, in 1/32 pixel.
    corner : (int, int)
        Row and column of the window's first pixel in the scan.
    overshoot : float
        By which share of their range light may leave that of the 4 × 4 samples around.
    undershoot : float
        By which share of the darkest of them it may go below it.

    Returns
    -------
    ndarray of float32, shape (height, width) or (height, width, 3)
    """
    light = np.ascontiguousarray(light, dtype=np.float32)
    x, y = (np.ascontiguousarray(at, dtype=np.int32) for at in places)
    channels = light.shape[2] if light.ndim == 3 else 1
    weights = _weights()
    window = _Window(
        light.ctypes.data,
        *light.shape[:2],
        channels,
        *corner,
        weights.ctypes.data,
        overshoot,
        undershoot,
    )
    out = np.empty((*x.shape, *light.shape[2:]), np.float32)
    shape = (ctypes.c_ssize_t * 4)(*_lines(y))
    loops().resample(ctypes.byref(window), address(x), address(y), shape, address(out))
    return out


def _lines(y: NDArray[np.int32]) -> tuple[int, int, int, int]:
    """Walk along the canvas's rows, or its columns where those follow the scan's rows.

    How many lines, how long, how far from one to the next, and along one.
    """
    rows, columns = y.shape
    if abs(int(y[0, -1]) - int(y[0, 0])) * rows <= abs(int(y[-1, 0]) - int(y[0, 0])) * columns:
        return rows, columns, columns, 1
    return columns, rows, 1, columns


@cache
def _weights() -> NDArray[np.float32]:
    """Lanczos's kernel with four lobes at each of the places, summing to 1.

    C. Lanczos, "Applied Analysis" (1956): a sinc under the main lobe of another.
    """
    distance = np.arange(SUBPIXELS)[:, None] / SUBPIXELS - (np.arange(TAPS) - BEFORE)
    weights = np.sinc(distance) * np.sinc(distance / (TAPS // 2))
    weights /= weights.sum(axis=1, keepdims=True)
    return weights.astype(np.float32)
