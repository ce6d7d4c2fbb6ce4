"""Labels of any window of the canvas from the curves between them, row by row.

For each canvas row is kept where curves cross it and which label begins there;
the canvas itself is never needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

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
    label, before : ndarray of uint8, shape (K,)
        What begins there, and what ends.
    """

    starts: IntArray
    column: NDArray[np.int32]
    label: LabelArray
    before: LabelArray

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
    sides = [
        np.stack([np.where(down, plus, minus), np.where(down, minus, plus)])
        for (_, _, down), (_, plus, minus) in zip(found, polylines, strict=True)
    ]
    labels = np.concatenate(sides, axis=1).astype(np.uint8) if sides else np.zeros((2, 0), np.uint8)
    order = np.lexsort((x, row))
    return Crossings(
        starts=np.searchsorted(row[order], np.arange(rows + 1)),
        column=np.clip(np.ceil(x[order]), -(2**30), 2**30).astype(np.int32),
        label=labels[0, order],
        before=labels[1, order],
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


def repaired(table: Crossings, safe: Crossings, begin: LabelArray, end: LabelArray) -> Crossings:
    """Take rows in which curves cross each other from a table in which none do.

    In a sound row each crossing ends what the one before began. Where it does not,
    a label would run on to the next crossing, however far that is.

    Parameters
    ----------
    table, safe : Crossings
        Of the same canvas.
    begin, end : ndarray of uint8, shape (rows,)
        Label at the far left and at the far right of each row.
    """
    rows = len(begin)
    row = np.repeat(np.arange(rows), np.diff(table.starts))
    safe_row = np.repeat(np.arange(rows), np.diff(safe.starts))
    bad = ~_sound(table, row, begin, end)
    good, spare = ~bad[row], bad[safe_row]
    row = np.concatenate([row[good], safe_row[spare]])
    order = np.argsort(row, kind="stable")

    def mixed(mine: IntArray, other: IntArray) -> Any:
        return np.concatenate([mine[good], other[spare]])[order]

    return Crossings(
        starts=np.searchsorted(row[order], np.arange(rows + 1)),
        column=mixed(table.column, safe.column),
        label=mixed(table.label, safe.label),
        before=mixed(table.before, safe.before),
    )


def _sound(table: Crossings, row: IntArray, begin: LabelArray, end: LabelArray) -> BoolArray:
    """Tell in which rows each crossing ends what was begun before it."""
    last = begin.copy()
    # Repeated indices: the last one in the row stays.
    last[row] = table.label
    sound = np.asarray(last == end)
    ended = np.empty_like(table.before)
    ended[1:] = table.label[:-1]
    first = table.starts[:-1][np.diff(table.starts) > 0]
    ended[first] = begin[row[first]]
    sound[row[ended != table.before]] = False
    return sound


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
    starts = np.concatenate(
        [np.arange(window.height) * window.width, rows * window.width + columns]
    )
    values = np.concatenate([begin[window.row : window.row + window.height], labels])
    # Of several that begin at one pixel the last counts: the others' runs are empty.
    order = np.argsort(starts, kind="stable")
    lengths = np.diff(starts[order], append=window.height * window.width)
    return np.repeat(values[order], lengths).reshape(window.height, window.width)


def inside_in(window: Window, table: Crossings) -> BoolArray:
    """Tell which pixels of a window lie inside a closed polyline, by even and odd."""
    rows, columns, _ = table.window(window)
    count = np.zeros((window.height, window.width), dtype=np.int32)
    np.add.at(count, (rows, columns), 1)
    return np.asarray(np.cumsum(count, axis=1) % 2 == 1)
