"""Labels of any window of the canvas from the curves between them, row by row.

For each canvas row is kept where curves cross it and which label begins there;
the canvas itself is never needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.joining.records import BoolArray, LabelArray
from colormatch.model import FloatArray, Window

IntArray = NDArray[np.integer]


@dataclass(frozen=True, kw_only=True, eq=False)
class Crossings:
    """Where curves cross rows of pixel centres.

    Attributes
    ----------
    starts : ndarray of int, shape (rows + 1,)
        Where each row's crossings begin in the arrays below.
    column : ndarray of int32, shape (K,)
        First pixel at or right of the crossing; ascending within a row.
    label : ndarray of uint8, shape (K,)
        What begins there.
    """

    starts: IntArray
    column: NDArray[np.int32]
    label: LabelArray

    def window(self, window: Window) -> tuple[IntArray, IntArray, LabelArray]:
        """Give row and column within a window, and label, of its crossings.

        Those left of it come in column 0, before any others.
        """
        first = self.starts[window.row]
        last = self.starts[window.row + window.height]
        counts = np.diff(self.starts[window.row : window.row + window.height + 1])
        rows = np.repeat(np.arange(window.height), counts)
        columns = np.maximum(self.column[first:last] - window.column, 0)
        inside = columns < window.width
        return rows[inside], columns[inside], self.label[first:last][inside]


def crossings(polylines: Sequence[tuple[FloatArray, int, int]], rows: int) -> Crossings:
    """Find where polylines cross rows.

    Parameters
    ----------
    polylines : sequence of (ndarray of shape (N, 2), int, int)
        Points (x, y) in canvas pixels; the label on the right-hand side of the
        picture where the line runs down it, and the one on the other.
    rows : int
        Of the canvas.
    """
    found = [_crossed(points, rows) for points, _, _ in polylines]
    row = np.concatenate([f[0] for f in found]) if found else np.zeros(0, int)
    x = np.concatenate([f[1] for f in found]) if found else np.zeros(0)
    label = [
        np.where(down, plus, minus)
        for (_, _, down), (_, plus, minus) in zip(found, polylines, strict=True)
    ]
    labels = np.concatenate(label).astype(np.uint8) if label else np.zeros(0, np.uint8)
    order = np.lexsort((x, row))
    return Crossings(
        starts=np.searchsorted(row[order], np.arange(rows + 1)),
        column=np.clip(np.ceil(x[order]), -(2**30), 2**30).astype(np.int32),
        label=labels[order],
    )


def _crossed(points: FloatArray, rows: int) -> tuple[IntArray, FloatArray, BoolArray]:
    """Rows crossed, where, and whether downwards; a row counts from its centre on."""
    y0, y1 = points[:-1, 1], points[1:, 1]
    low, high = np.ceil(np.minimum(y0, y1)), np.ceil(np.maximum(y0, y1))
    low, high = np.clip(low, 0, rows).astype(int), np.clip(high, 0, rows).astype(int)
    counts = high - low
    which = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    row = low[which] + within
    share = (row - y0[which]) / (y1 - y0)[which]
    x = points[:-1, 0][which] + share * (points[1:, 0] - points[:-1, 0])[which]
    return row, x, (y1 > y0)[which]


def labels_in(window: Window, table: Crossings, begin: LabelArray) -> LabelArray:
    """Label the pixels of a window.

    Parameters
    ----------
    window : Window
        Inside the canvas.
    table : Crossings
    begin : ndarray of uint8, shape (rows of the canvas,)
        Label at the far left of each row.

    Returns
    -------
    ndarray of uint8, shape (height, width)
    """
    rows, columns, labels = table.window(window)
    values = np.concatenate([begin[window.row : window.row + window.height], labels])
    last = np.zeros((window.height, window.width), dtype=np.int32)
    last[:, 0] = np.arange(window.height)
    # Of several crossings in one pixel the last counts: it has the largest number.
    np.maximum.at(last, (rows, columns), np.arange(len(labels), dtype=np.int32) + window.height)
    np.maximum.accumulate(last, axis=1, out=last)
    return np.asarray(values[last])


def inside_in(window: Window, table: Crossings) -> BoolArray:
    """Tell which pixels of a window lie inside a closed polyline, by even and odd."""
    rows, columns, _ = table.window(window)
    count = np.zeros((window.height, window.width), dtype=np.int32)
    np.add.at(count, (rows, columns), 1)
    return np.asarray(np.cumsum(count, axis=1) % 2 == 1)
