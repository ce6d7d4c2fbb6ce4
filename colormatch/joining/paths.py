"""The best way for a seam inside its band, by dynamic programming."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.joining import costs
from colormatch.joining.curves import BAND
from colormatch.joining.segments import visible_difference
from colormatch.joining.strips import OFFSETS, Strip, finite
from colormatch.model import FloatArray

STEEPEST = 2
"""Canvas pixels a seam may move sideways from one place to the next."""
ACROSS = 0.5
"""Per unit of visible difference along the seam's own way: strokes it cuts through."""
ON_EDGE = 0.5
"""Saved on the strongest colour edge along the seam's way: it hides a seam."""
HOME = 0.3
"""For being a whole band away from where the seam was decided on the grid."""
SIDEWAYS = 0.15
"""Per canvas pixel moved sideways."""
FORBIDDEN = 1e4
"""For each place given to a tile that does not show it."""


def strip_costs(strip: Strip, xyz_from_rgb: FloatArray) -> NDArray[np.float32]:
    """Give the cost of running a seam through each place of a strip.

    Parameters
    ----------
    strip : Strip
    xyz_from_rgb : ndarray of shape (3, 3)

    Returns
    -------
    ndarray of float32, shape (N, len(OFFSETS))
    """
    import cv2

    plus, minus = (
        costs.lab_of(np.asarray(cv2.blur(light, (3, 3))), xyz_from_rgb) for light in strip.light
    )
    both = finite(plus) & finite(minus)
    step = np.minimum(visible_difference(plus, minus), costs.MOST_STEP)
    cost = np.where(both, step, costs.MOST_STEP)
    mean = 0.5 * (plus + minus)
    way = np.zeros_like(cost)
    way[1:] = np.minimum(visible_difference(mean[1:], mean[:-1]), costs.MOST_STEP)
    cost += ACROSS * np.where(np.isfinite(way), way, 0)
    edge = np.zeros_like(cost)
    edge[:, 1:-1] = np.minimum(visible_difference(mean[:, 2:], mean[:, :-2]), costs.BUSIEST)
    cost -= ON_EDGE / costs.BUSIEST * np.where(np.isfinite(edge), edge, 0)
    cost[~strip.inside] = 0
    cost += HOME * np.abs(OFFSETS) / BAND
    cost += FORBIDDEN * _missing(strip)
    return np.asarray(cost, dtype=np.float32)


def _missing(strip: Strip) -> FloatArray:
    """How many places of a row would be given to a tile that does not show them."""
    plus, minus = (strip.inside & ~finite(light) for light in strip.light)
    if not (plus.any() or minus.any()):
        return np.zeros(plus.shape)
    # A seam at a place gives that place and all beyond to plus, all before to minus.
    beyond = np.cumsum(plus[:, ::-1], axis=1)[:, ::-1]
    before = np.cumsum(minus, axis=1)
    return np.asarray(beyond + before - minus)


def best_path(cost: FloatArray, room: FloatArray) -> NDArray[np.int64]:
    """Find the way of least cost along a strip.

    Parameters
    ----------
    cost : ndarray of shape (N, len(OFFSETS))
    room : ndarray of shape (N, 2)
        How far the seam may move to either side in each row; 0 keeps it.

    Returns
    -------
    ndarray of int64, shape (N,)
        Index into `OFFSETS` for each row; neighbours differ by `STEEPEST` at most.
    """
    closed = (-room[:, :1] > OFFSETS) | (room[:, 1:] < OFFSETS)
    closed &= OFFSETS != 0
    count, width = cost.shape
    here = np.where(closed, np.inf, cost).astype(np.float64)
    came = np.zeros((count, width), dtype=np.int8)
    moves = np.arange(-STEEPEST, STEEPEST + 1)
    toll = (SIDEWAYS * np.abs(moves))[:, None]
    padded = np.full(width + 2 * STEEPEST, np.inf)
    # Row k of this view is the last row's total, seen from k - STEEPEST to the right.
    views = np.lib.stride_tricks.sliding_window_view(padded, width)
    total = here[0]
    index = np.arange(width)
    for row in range(1, count):
        padded[STEEPEST:-STEEPEST] = total
        options = views + toll
        best = options.argmin(axis=0)
        came[row] = best
        total = options[best, index] + here[row]
    path = np.empty(count, dtype=np.int64)
    path[-1] = int(np.argmin(total))
    for row in range(count - 1, 0, -1):
        path[row - 1] = path[row] + moves[came[row, path[row]]]
    return path
