"""Light of two tiles along a curve, as a straightened strip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.joining.curves import BAND, Curve
from colormatch.joining.records import BoolArray, Grid, Reader
from colormatch.model import FloatArray, Window

AT_ONCE = 160
"""Places along a curve read together: windows stay small."""
OFFSETS = np.arange(-BAND, BAND + 1)
"""Canvas pixels from the curve towards plus."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Strip:
    """The surroundings of a curve, one row for each of its places.

    Attributes
    ----------
    light : tuple of two ndarrays of float32, shape (N, len(OFFSETS), 3)
        Of the plus and of the minus tile; NaN where it is not.
    inside : ndarray of bool, shape (N, len(OFFSETS))
        Whether on the canvas.
    """

    light: tuple[FloatArray, FloatArray]
    inside: BoolArray


def read_strip(grid: Grid, curve: Curve, read: Reader) -> Strip:
    """Read the light of both tiles around a curve, window by window.

    Parameters
    ----------
    grid : Grid
    curve : Curve
        A seam.
    read : callable
        ``read(tile, window)``: linear light (height, width, 3); NaN where the
        tile is not. Asked only for windows inside the canvas.
    """
    count = len(curve.points)
    shape = (count, len(OFFSETS), 3)
    plus: NDArray[np.float32] = np.full(shape, np.nan, dtype=np.float32)
    minus = plus.copy()
    inside = np.zeros(shape[:2], dtype=bool)
    for start in range(0, count, AT_ONCE):
        part = slice(start, min(start + AT_ONCE, count))
        places = curve.points[part, None] + OFFSETS[:, None] * curve.normals[part, None]
        window = _window(grid, places)
        if window is None:
            continue
        inside[part] = _on_canvas(grid, places)
        for into, tile in ((plus, curve.plus), (minus, curve.minus)):
            into[part] = _sampled(read(tile, window), window, places)
    return Strip(light=(plus, minus), inside=inside)


def finite(light: FloatArray) -> BoolArray:
    """Tell where all three channels are known."""
    import cv2

    # Many times as fast as isfinite(light).all(axis=2): the axis is only three long.
    return np.isfinite(np.asarray(cv2.transform(light, np.ones((1, 3), np.float32))))


def _on_canvas(grid: Grid, places: FloatArray) -> BoolArray:
    high = np.array([grid.canvas_width, grid.canvas_height]) - 1
    inside = (places >= 0) & (places <= high)
    return np.asarray(inside[..., 0] & inside[..., 1])


def _window(grid: Grid, places: FloatArray) -> Window | None:
    """Canvas window that holds the places, or None off the canvas."""
    flat = places.reshape(-1, 2)
    low = np.maximum(np.floor(flat.min(axis=0)).astype(int) - 1, 0)
    high = np.ceil(flat.max(axis=0)).astype(int) + 2
    high = np.minimum(high, [grid.canvas_width, grid.canvas_height])
    if (high <= low).any():
        return None
    return Window(
        row=int(low[1]),
        column=int(low[0]),
        height=int(high[1] - low[1]),
        width=int(high[0] - low[0]),
    )


def _sampled(light: FloatArray, window: Window, places: FloatArray) -> FloatArray:
    import cv2

    at = (places - (window.column, window.row)).astype(np.float32)
    return np.asarray(
        cv2.remap(
            np.ascontiguousarray(light, dtype=np.float32),
            at[..., 0],
            at[..., 1],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=(np.nan, np.nan, np.nan),
        )
    )
