"""From places that look like marks to poses of a whole target."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from colormatch.finding.search import Places
from colormatch.model import FloatArray, Layout

LONG_BASE = 0.5
"""Share of the largest distance of marks from which a pair fixes a pose well enough."""

SCALE_TOLERANCE = 0.09
"""By which a distance may differ from the scale at which marks were looked for."""

PLACE_TOLERANCE = 0.22
"""Of a mark's diameter, by which a mark may lie beside where a pose puts it."""

MOST_OFF = 0.05
"""Of a mark's diameter: RMS distance of the marks seen from a pose fitted to them."""

MOST_POSES = 200
"""Tried by colour; the right one is among the first, for it explains most marks."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Pose:
    """A guess where a target lies.

    Attributes
    ----------
    layout : Layout
        The design supposed.
    px_from_mm : ndarray of shape (2, 3)
        Similarity without a mirror, from millimetres to pixels of the small picture.
    seen : dict
        Place of each mark that was seen, pixels of the small picture, by id.
    score : float
        Sum of the likenesses of the marks seen.
    """

    layout: Layout
    px_from_mm: FloatArray
    seen: dict[str, tuple[float, float]]
    score: float


def marks_needed(layout: Layout) -> int:
    """Give how many marks must be seen: all but one, and all of two or three."""
    count = len(layout.marks)
    return count - 1 if count > 3 else count


def mark_points(layout: Layout) -> FloatArray:
    """Give the centres of a layout's marks, (M, 2), millimetres."""
    return np.array([(mark.x, mark.y) for mark in layout.marks])


def likely_poses(
    places: Places, layout: Layout, scale: float, needed: int, *, base: float = LONG_BASE
) -> list[Pose]:
    """Find the poses that put a layout's marks on places that look like them.

    Each pair of places as far apart as two marks gives a pose; it counts if enough
    of the other marks are where it puts them.

    Parameters
    ----------
    places : Places
        Candidates.
    layout : Layout
        The design.
    scale : float
        Pixels of the small picture per millimetre, within `SCALE_TOLERANCE`.
    needed : int
        Least number of marks seen.
    base : float, optional
        Share of the largest distance of marks that a pair must be apart to give a pose.

    Returns
    -------
    list of Pose
        Most marks first, then most alike; no two see the same marks.
    """
    marks = mark_points(layout) @ np.array([1, 1j])
    eyes = np.array([mark.kind == "eye" for mark in layout.marks])
    turns, shifts = _pair_poses(places, marks, eyes, scale, base)
    if not len(turns):
        return []
    reach = PLACE_TOLERANCE * scale * min(mark.diameter for mark in layout.marks)
    found = _nearest(places, turns[:, None] * marks + shifts[:, None], eyes, reach)
    count = (found >= 0).sum(axis=1)
    likeness = np.append(places.likeness, 0.0)
    score = likeness[found].sum(axis=1)
    order = np.lexsort([-score, -count])
    order = order[count[order] >= needed]
    poses, known = [], set()
    for row in order:
        key = found[row].tobytes()
        if key not in known:
            known.add(key)
            pose = _pose(places, layout, found[row], float(score[row]))
            if misfit(pose) < MOST_OFF * scale * layout.marks[0].diameter:
                poses.append(pose)
        if len(poses) == MOST_POSES:
            break
    return poses


def _pair_poses(
    places: Places, marks: FloatArray, eyes: FloatArray, scale: float, share: float
) -> tuple[FloatArray, FloatArray]:
    """Give turn-and-scale and shift, as complex numbers, of all pairs that may be marks."""
    points = places.points @ np.array([1, 1j])
    widest = np.abs(marks[:, None] - marks[None]).max()
    turns, shifts = [np.zeros(0, complex)], [np.zeros(0, complex)]
    for a, b in combinations(range(len(marks)), 2):
        base = marks[b] - marks[a]
        if abs(base) < share * widest:
            continue
        first = np.flatnonzero(places.eyes == eyes[a])
        second = np.flatnonzero(places.eyes == eyes[b])
        apart = points[second][None, :] - points[first][:, None]
        fits = np.abs(np.abs(apart) / (abs(base) * scale) - 1) < SCALE_TOLERANCE
        i, j = np.nonzero(fits)
        turn = apart[i, j] / base
        turns.append(turn)
        shifts.append(points[first[i]] - turn * marks[a])
    return np.concatenate(turns), np.concatenate(shifts)


def _nearest(places: Places, wanted: FloatArray, eyes: FloatArray, reach: float) -> FloatArray:
    """Give the place of the right kind nearest to each mark, -1 for none; (P, M)."""
    from scipy.spatial import cKDTree

    found = np.full(wanted.shape, -1)
    for kind in (True, False):
        own = np.flatnonzero(places.eyes == kind)
        columns = np.flatnonzero(eyes == kind)
        if len(own) and len(columns):
            query = np.stack([wanted[:, columns].real, wanted[:, columns].imag], axis=-1)
            _, nearest = cKDTree(places.points[own]).query(query, distance_upper_bound=reach)
            found[:, columns] = np.append(own, -1)[nearest]
    return found


def _pose(places: Places, layout: Layout, found: FloatArray, score: float) -> Pose:
    """Fit a pose to the marks seen."""
    seen = np.flatnonzero(found >= 0)
    points = places.points[found[seen]]
    return Pose(
        layout=layout,
        px_from_mm=similarity(mark_points(layout)[seen], points),
        seen={
            layout.marks[i].id: (float(p[0]), float(p[1]))
            for i, p in zip(seen, points, strict=True)
        },
        score=score,
    )


def misfit(pose: Pose) -> float:
    """Give the RMS distance of the marks seen from the pose, pixels."""
    mm = np.array([(mark.x, mark.y) for mark in pose.layout.marks if mark.id in pose.seen])
    away = applied(pose.px_from_mm, mm) - np.array(list(pose.seen.values()))
    return float(np.sqrt(np.mean((away**2).sum(axis=1))))


def similarity(mm: FloatArray, px: FloatArray) -> FloatArray:
    """Fit turn, scale and shift by least squares.

    Parameters
    ----------
    mm, px : ndarray of shape (N, 2)
        N at least 2, not all in one place.

    Returns
    -------
    ndarray of shape (2, 3)
        As `px_from_mm`; never a mirror.
    """
    z, w = (points @ np.array([1, 1j]) for points in (mm, px))
    flat = z - z.mean()
    turn = (flat.conj() @ (w - w.mean())) / (flat.conj() @ flat)
    shift = w.mean() - turn * z.mean()
    return np.array([[turn.real, -turn.imag, shift.real], [turn.imag, turn.real, shift.imag]])


def affine(mm: FloatArray, px: FloatArray) -> FloatArray:
    """Fit an affine map by least squares; a similarity if the points cannot fix one.

    Parameters
    ----------
    mm, px : ndarray of shape (N, 2)
        N at least 2.

    Returns
    -------
    ndarray of shape (2, 3)
        As `px_from_mm`.
    """
    flat = mm - mm.mean(axis=0)
    width = np.linalg.svd(flat, compute_uv=False)
    # Points nearly on a line leave the direction across it to chance.
    if len(mm) < 3 or width[-1] < 0.02 * width[0]:
        return similarity(mm, px)
    solution, *_ = np.linalg.lstsq(flat, px - px.mean(axis=0), rcond=None)
    linear = solution.T
    return np.column_stack([linear, px.mean(axis=0) - linear @ mm.mean(axis=0)])


def applied(px_from_mm: FloatArray, mm: FloatArray) -> FloatArray:
    """Map millimetres to pixels; shape (..., 2)."""
    result: FloatArray = mm @ px_from_mm[:, :2].T + px_from_mm[:, 2]
    return result


def full_scale(px_from_mm: FloatArray, step: int) -> FloatArray:
    """Turn a map into the small picture into one into the scan."""
    scaled = step * px_from_mm
    scaled[:, 2] += (step - 1) / 2
    return scaled


def corners(layout: Layout) -> FloatArray:
    """Give the corners of the sheet, (4, 2), millimetres, round the sheet."""
    width, height = layout.width, layout.height
    return np.array([[0, 0], [width, 0], [width, height], [0, height]])
