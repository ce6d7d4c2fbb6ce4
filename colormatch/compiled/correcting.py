"""Codes to light, and light times a coarse grid, by compiled loops: each in one pass."""

from __future__ import annotations

import ctypes
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.compiled.grids import between_centres
from colormatch.compiled.library import address, loops

Grid = NDArray[np.float32]


class _Spread(ctypes.Structure):
    """What the loops know of a grid under a window; the order is theirs."""

    _fields_ = (
        ("rows", ctypes.c_ssize_t),
        ("columns", ctypes.c_ssize_t),
        ("above", ctypes.c_void_p),
        ("down", ctypes.c_void_p),
        ("left", ctypes.c_void_p),
        ("across", ctypes.c_void_p),
        ("grid", ctypes.c_void_p),
        ("grid_columns", ctypes.c_ssize_t),
        ("floats_per_row", ctypes.c_ssize_t),
        ("between", ctypes.c_void_p),
    )


def four_wide(*layers: NDArray[Any]) -> Grid:
    """Put layers of a grid side by side as the loops want them.

    Parameters
    ----------
    *layers : ndarray of shape (h, w) or (h, w, n)
        Four values or fewer in all.

    Returns
    -------
    ndarray of float32, shape (h + 1, w + 1, 4)
        The last row and column twice, so that each has a next one.
    """
    flat = [layer.reshape(*layer.shape[:2], -1) for layer in layers]
    wide = np.zeros((*layers[0].shape[:2], 4), np.float32)
    together = np.concatenate(flat, axis=2)
    wide[..., : together.shape[2]] = together
    return np.pad(wide, ((0, 1), (0, 1), (0, 0)), mode="edge")


def correct(
    codes: NDArray[np.uint8] | NDArray[np.uint16],
    decode: NDArray[np.float32],
    known: Grid,
    step: float,
    corner: tuple[int, int],
    matrix: NDArray[np.float32],
) -> NDArray[np.float32]:
    """Give ``((decode[code] - scattered) * gain) @ matrix.T`` for a window of a scan.

    Parameters
    ----------
    codes : ndarray of shape (rows, columns, 3)
        As stored in the file.
    decode : ndarray of float32, shape (levels, 3)
        Light of each code.
    known : ndarray
        From `four_wide`: scattered light, red, green and blue, and the gain.
    step : float
        Scan pixels per step of that grid.
    corner : (int, int)
        Row and column of the window's first pixel in the scan.
    matrix : ndarray of float32, shape (3, 3)
        From the scanner's light to the output's.

    Returns
    -------
    ndarray of float32, shape (rows, columns, 3)
    """
    codes = np.require(codes, requirements="C")
    columns = np.zeros((3, 4), np.float32)
    columns[:, :3] = matrix.T
    decode = np.ascontiguousarray(decode)
    out = np.empty(codes.shape, np.float32)
    spread, _held = _spread(known, step, corner, codes.shape[:2])
    loop = loops().correct_8 if codes.dtype == np.uint8 else loops().correct_16
    loop(ctypes.byref(spread), *(address(a) for a in (codes, decode, columns, out)))
    return out


def multiply(light: NDArray[np.float32], gain: Grid, step: float, corner: tuple[int, int]) -> None:
    """Multiply light by a grid, in place.

    Parameters
    ----------
    light : ndarray of float32, shape (rows, columns, 3)
        A window of the scan, contiguous.
    gain : ndarray
        From `four_wide`; three values are used.
    step : float
        Scan pixels per step of that grid.
    corner : (int, int)
        Row and column of the window's first pixel in the scan.
    """
    spread, _held = _spread(gain, step, corner, light.shape[:2])
    loops().multiply_spread(ctypes.byref(spread), address(light))


def _spread(
    grid: Grid, step: float, corner: tuple[int, int], shape: tuple[int, ...]
) -> tuple[_Spread, tuple[NDArray[Any], ...]]:
    """Find the grid under a window; the arrays beside it must live as long as it is used."""
    rows, columns = shape
    above, down = between_centres(corner[0], rows, step, grid.shape[0] - 1)
    left, across = between_centres(corner[1], columns, step, grid.shape[1] - 1)
    first, last = int(left[0]), int(left[-1])
    part = grid[:, first : last + 2]
    between = np.empty((last + 2 - first, 4), np.float32)
    held = above.astype(np.int32), down, (left - first).astype(np.int32), across, part, between
    pointers = [array.ctypes.data for array in held]
    spread = _Spread(
        rows, columns, *pointers[:5], len(between), part.strides[0] // part.itemsize, pointers[5]
    )
    return spread, held
