"""Borders between the patches of a design."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray, Layout

WIDEST_GAP = 0.5
"""Of a patch's depth: beyond it a gap's two borders are looked at one by one."""

ALONG = 0.7
"""Share of a side that is read: corners are shared with other patches."""

TOUCHING = 0.01
"""Gap, mm, below which patches touch: rounding, not design."""

OPEN = 1000.0
"""Gap, mm, of a side without a neighbour: wider than any window."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Borders:
    """Borders of a design; S of them.

    Attributes
    ----------
    middles : ndarray of shape (S, 2)
        Middle of each, in the middle of its gap, or on the edge itself; mm.
    normals : ndarray of shape (S, 2)
        Direction across: to the right, downward, or outward.
    lengths : ndarray of shape (S,)
        Length along which both sides are plain, mm.
    gaps : ndarray of shape (S,)
        Width of the gap, mm; `OPEN` for a side without a neighbour.
    rooms : ndarray of shape (S,)
        How far from the gap's middle, or the edge, a profile may reach, mm.
    """

    middles: FloatArray
    normals: FloatArray
    lengths: FloatArray
    gaps: FloatArray
    rooms: FloatArray

    @property
    def widths(self) -> FloatArray:
        """Width of each gap, mm; 0 for a side without a neighbour."""
        return np.where(self.gaps < OPEN, self.gaps, 0.0)


def borders_of(layout: Layout) -> Borders:
    """Find the borders of a design's patches."""
    boxes = np.array([(p.x, p.y, p.width, p.height) for p in layout.patches])
    sheet = np.array([layout.width, layout.height])
    found = [_across(boxes, sheet, axis) for axis in (0, 1)]
    middles, normals, rest = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return Borders(
        middles=middles,
        normals=normals,
        lengths=ALONG * rest[:, 0],
        gaps=rest[:, 1],
        rooms=rest[:, 2],
    )


def _across(
    boxes: FloatArray, sheet: FloatArray, axis: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give the borders across one axis: middles, normals, and length, gap and room."""
    low, size = boxes[:, axis], boxes[:, 2 + axis]
    start, width = boxes[:, 1 - axis], boxes[:, 3 - axis]
    high, end = low + size, start + width
    common = np.minimum(end[:, None], end) - np.maximum(start[:, None], start)
    apart = low[None, :] - high[:, None]
    beside = (common > 0.5 * np.minimum(width[:, None], width)) & (apart > -0.01)
    apart = np.where(beside, np.where(apart < TOUCHING, 0.0, apart), np.inf)
    after, before = apart.argmin(axis=1), apart.argmin(axis=0)
    pairs, singles = [], []
    for i in range(len(boxes)):
        j = int(after[i])
        gap = float(apart[i, j])
        depth = min(size[i], size[j])
        if gap <= WIDEST_GAP * depth and before[j] == i:
            along = (max(start[i], start[j]) + min(end[i], end[j])) / 2
            pairs.append((high[i] + gap / 2, along, 1.0, common[i, j], gap, gap / 2 + depth / 2))
            continue
        room = min(size[i] / 2, gap / 2 if np.isfinite(gap) else sheet[axis] - high[i])
        singles.append((high[i], start[i] + width[i] / 2, 1.0, width[i], OPEN, room))
    for j in range(len(boxes)):
        i = int(before[j])
        gap = float(apart[i, j])
        if gap <= WIDEST_GAP * min(size[i], size[j]) and after[i] == j:
            continue
        room = min(size[j] / 2, gap / 2 if np.isfinite(gap) else low[j])
        singles.append((low[j], start[j] + width[j] / 2, -1.0, width[j], OPEN, room))
    rows = np.array(pairs + singles)
    order = [0, 1] if axis == 0 else [1, 0]
    normals = np.zeros((len(rows), 2))
    normals[:, axis] = rows[:, 2]
    return rows[:, order], normals, rows[:, 3:]
