"""The borders between labels as smooth curves on the canvas, with room to move in.

A curve runs between two junctions, or is closed. Within its room, on either
side, no other piece of any curve is nearer: curves moved within their rooms
do not cross.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colormatch.joining.records import UNCOVERED, LabelArray
from colormatch.model import FloatArray

IntArray = NDArray[np.integer]

BAND = 32
"""Canvas pixels to either side within which a seam may be moved."""
SPACING = 2.0
"""Canvas pixels between places along a curve."""
SMOOTH = 2.0
"""Sigma in grid pixels along a curve: a border on the grid is a staircase."""
LEEWAY = 0.49
"""Grid pixels that a curve may be smoothed away from its staircase."""
SHORT = 16
"""A closed curve of fewer grid sides is left as it is."""
SPARSE = 4
"""Every which place is compared when room is measured."""
SHARE = 0.8
"""Of the room that would just touch, what is given."""
MARGIN = 12
"""Grid pixels by which the picture is continued, so that seams leave it straight."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Curve:
    """A border between two labels.

    Attributes
    ----------
    corners : ndarray of shape (K, 2)
        Canvas pixels (x, y) of the staircase on the grid that it follows.
    points : ndarray of shape (N, 2)
        Likewise, of the curve; a closed curve's last is its first.
    plus, minus : int
        Labels on the side of ``normals`` and on the other. For a curve that
        runs down the picture, plus lies to the right.
    normals : ndarray of shape (N, 2)
        Unit vectors.
    room : ndarray of shape (N, 2)
        Canvas pixels it may move towards minus and towards plus; 0 where fixed.
    """

    corners: FloatArray
    points: FloatArray
    plus: int
    minus: int
    normals: FloatArray
    room: FloatArray

    @property
    def is_seam(self) -> bool:
        """Whether a tile lies on both sides."""
        return UNCOVERED not in (self.plus, self.minus)


def continued(labels: LabelArray) -> LabelArray:
    """Continue labels by `MARGIN` grid pixels on all sides."""
    return np.pad(labels, MARGIN, mode="edge")


def curves_of(labels: LabelArray, step: int) -> list[Curve]:
    """Follow all borders between labels.

    Parameters
    ----------
    labels : ndarray of uint8, shape (h, w)
        On the grid.
    step : int
        Canvas pixels per grid pixel.
    """
    curves = []
    for corners, plus, minus in _chains(continued(labels)):
        on_canvas = (corners[:, ::-1] - MARGIN) * float(step) - 0.5
        curves.append(_curve(on_canvas, plus, minus, step))
    return _with_room(curves)


def _chains(labels: LabelArray) -> list[tuple[FloatArray, int, int]]:
    """Follow the sides of pixels between labels; corners (row, column), plus, minus."""
    starts, ends, plus, minus = _sides(labels)
    width = labels.shape[1] + 1
    at: dict[int, list[int]] = {}
    for k, (a, b) in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
        at.setdefault(a, []).append(k)
        at.setdefault(b, []).append(k)
    left = np.ones(len(starts), dtype=bool)
    sides = starts.tolist(), ends.tolist()
    # Open chains first: they begin where other than two sides meet.
    seeds = [k for here in at.values() if len(here) != 2 for k in here]
    chains = []
    for side in (*seeds, *range(len(starts))):
        if not left[side]:
            continue
        forward = len(at[sides[0][side]]) != 2 or len(at[sides[1][side]]) == 2
        begin = sides[0 if forward else 1][side]
        corners = _walk(side, begin, sides, at, left)
        pair = (int(plus[side]), int(minus[side]))
        path = np.stack(np.divmod(np.array(corners), width), axis=-1).astype(float)
        chains.append((path, *(pair if forward else pair[::-1])))
    return chains


def _walk(
    side: int,
    corner: int,
    sides: tuple[list[int], list[int]],
    at: dict[int, list[int]],
    left: NDArray[np.bool_],
) -> list[int]:
    """Go from a corner along sides until they fork, end, or close."""
    corners = [corner]
    while True:
        left[side] = False
        corner = sides[1][side] if sides[0][side] == corner else sides[0][side]
        corners.append(corner)
        here = at[corner]
        if len(here) != 2:
            return corners
        side = here[1] if here[0] == side else here[0]
        if not left[side]:
            return corners


def _sides(labels: LabelArray) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Sides of pixels between two labels, running down or to the right."""
    width = labels.shape[1] + 1
    row, column = np.nonzero(labels[:, 1:] != labels[:, :-1])
    down = (row * width + column + 1, (row + 1) * width + column + 1)
    down_labels = labels[row, column + 1], labels[row, column]
    row, column = np.nonzero(labels[1:] != labels[:-1])
    across = ((row + 1) * width + column, (row + 1) * width + column + 1)
    across_labels = labels[row, column], labels[row + 1, column]
    return (
        np.concatenate([down[0], across[0]]),
        np.concatenate([down[1], across[1]]),
        np.concatenate([down_labels[0], across_labels[0]]),
        np.concatenate([down_labels[1], across_labels[1]]),
    )


def _curve(corners: FloatArray, plus: int, minus: int, step: int) -> Curve:
    """Make a chain of corners a smooth curve, or leave it if it is no seam."""
    closed = bool((corners[0] == corners[-1]).all())
    seam = UNCOVERED not in (plus, minus)
    points = corners
    if seam and not (closed and len(corners) < SHORT):
        # Staircases lie a grid pixel apart: curves within half of that do not cross.
        smooth = np.clip(
            _smoothed(corners, closed), corners - LEEWAY * step, corners + LEEWAY * step
        )
        points = _resampled(smooth, SPACING)
    elif seam:
        points = _resampled(corners, SPACING)
    tangents = np.gradient(points, axis=0) if len(points) > 1 else np.ones_like(points)
    if seam:
        tangents = _smoothed(tangents, closed, sigma=SMOOTH * step / SPACING / 2, pinned=False)
    tangents /= np.maximum(np.hypot(*tangents.T), 1e-9)[:, None]
    normals = np.stack([tangents[:, 1], -tangents[:, 0]], axis=-1)
    room = np.zeros((len(points), 2))
    return Curve(corners=corners, points=points, plus=plus, minus=minus, normals=normals, room=room)


def _smoothed(
    values: FloatArray, closed: bool, *, sigma: float = SMOOTH, pinned: bool = True
) -> FloatArray:
    """Smooth along a curve; the ends of an open one stay where they are if pinned."""
    from scipy.ndimage import gaussian_filter1d

    if closed:
        smooth = gaussian_filter1d(values[:-1], sigma, axis=0, mode="wrap")
        return np.concatenate([smooth, smooth[:1]])
    if not pinned:
        return np.asarray(gaussian_filter1d(values, sigma, axis=0, mode="nearest"))
    # Mirrored through its ends a curve keeps them, if it is long enough beside sigma.
    sigma = min(sigma, (len(values) - 1) / 5)
    reach = min(len(values) - 1, int(4 * sigma) + 1)
    before = 2 * values[0] - values[reach:0:-1]
    after = 2 * values[-1] - values[-2 : -reach - 2 : -1]
    smooth = gaussian_filter1d(np.concatenate([before, values, after]), sigma, axis=0)
    return np.concatenate([values[:1], smooth[reach + 1 : reach + len(values) - 1], values[-1:]])


def _resampled(points: FloatArray, spacing: float) -> FloatArray:
    """Give places at even steps along a curve, its ends among them."""
    lengths = np.hypot(*np.diff(points, axis=0).T)
    way = np.concatenate([[0.0], np.cumsum(lengths)])
    count = max(2, round(way[-1] / spacing) + 1)
    even = np.linspace(0, way[-1], count)
    return np.stack([np.interp(even, way, points[:, k]) for k in range(2)], axis=-1)


def _with_room(curves: Sequence[Curve]) -> list[Curve]:
    """Measure how far each curve may move before it could meet another, or itself."""
    from scipy.spatial import cKDTree

    if not curves:
        return []
    picks = [_sparse(len(curve.points)) for curve in curves]
    points = np.concatenate([c.points[p] for c, p in zip(curves, picks, strict=True)])
    normals = np.concatenate([c.normals[p] for c, p in zip(curves, picks, strict=True)])
    owner = np.repeat(np.arange(len(curves)), [len(pick) for pick in picks])
    pairs = cKDTree(points).query_pairs(2.0 * BAND, output_type="ndarray")
    radius = np.full((len(points), 2), float(BAND))
    for near, far in ((pairs[:, 0], pairs[:, 1]), (pairs[:, 1], pairs[:, 0])):
        gap = points[far] - points[near]
        ahead = (gap * normals[near]).sum(axis=1)
        # Radius of the circle that touches the curve at one place and meets the other.
        touch = (gap**2).sum(axis=1) / np.maximum(2 * np.abs(ahead), 1e-6)
        # Neighbours one step apart on one curve only tell how rough it is.
        next_ = (gap**2).sum(axis=1) < (1.5 * SPARSE * SPACING) ** 2
        touch[next_ & (owner[near] == owner[far])] = BAND
        np.minimum.at(radius[:, 0], near[ahead < 0], touch[ahead < 0])
        np.minimum.at(radius[:, 1], near[ahead > 0], touch[ahead > 0])
    ends = np.cumsum([len(pick) for pick in picks])[:-1]
    parts = np.split(radius * SHARE, ends)
    return [
        _given_room(curve, pick, part)
        for curve, pick, part in zip(curves, picks, parts, strict=True)
    ]


def _sparse(count: int) -> IntArray:
    return np.unique(np.append(np.arange(0, count, SPARSE), count - 1))


def _given_room(curve: Curve, pick: IntArray, room: FloatArray) -> Curve:
    """Spread the room over all places of a seam; its ends are fixed."""
    count = len(curve.points)
    if not curve.is_seam:
        return curve
    index = np.arange(count)
    from_end = np.minimum(index, count - 1 - index) * SPACING
    full = np.stack([np.interp(index, pick, room[:, k]) for k in range(2)], axis=-1)
    return replace(curve, room=np.minimum(full, 0.5 * from_end[:, None]))
