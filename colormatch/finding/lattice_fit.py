"""The exact pose of a chart from the borders of its patches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.finding.border_design import OPEN, Borders
from colormatch.finding.borders import Shifts, border_shifts, likely_blur, read_profiles
from colormatch.finding.reading import Region
from colormatch.model import FloatArray

FIRST_REACH = 0.3
"""Of a patch's side: how far borders are looked for to begin with."""

LAST_REACH_PX, LAST_REACH_MM = 4.0, 0.35
"""And in the end, whichever is more: a narrow window sees only its own border."""

PASSES = 3

FIRST_BLUR = 0.8
"""Standard deviation, pixels, supposed before it is known."""

LEAST_SURE = 0.12
"""Standard deviation, mm, beyond which a border counts as not seen."""

FLOOR_PX = 0.05
"""Share of a pixel to which a border is believed at best."""

OUTLIER = 3.5
"""Robust standard deviations beyond which a border is not the chart's, or covered."""

IN_PLACE_MM = 0.2
"""Distance within which a border confirms the pose; printers and cutters keep to less."""

LEAST_BORDERS = 12

UNKNOWNS = 9
"""Six of the pose, how far ink spreads, two of a hairline between touching patches."""


@dataclass(frozen=True, kw_only=True, eq=False)
class ExactPose:
    """A pose fitted to borders.

    Attributes
    ----------
    px_from_mm : ndarray of shape (2, 3)
        Affine, into the scan.
    residual : float
        RMS distance of the borders in place from the pose, scan pixels.
    share : float
        Share of the borders seen that are in place.
    seen : int
        Borders seen.
    """

    px_from_mm: FloatArray
    residual: float
    share: float
    seen: int


def exact_pose(
    region: Region, px_from_mm: FloatArray, borders: Borders, side: float, exponent: float
) -> ExactPose | None:
    """Fit a pose to the borders a scan shows.

    Parameters
    ----------
    region : Region
        The scan round the chart.
    px_from_mm : ndarray of shape (2, 3)
        Off by less than a third of a patch.
    borders : Borders
        The design's.
    side : float
        Of the smallest patch, mm.
    exponent : float
        Roughly the scan's tone curve.

    Returns
    -------
    ExactPose or None
        None if too few borders are seen to fix it.
    """
    per_mm = float(np.sqrt(abs(np.linalg.det(px_from_mm[:, :2]))))
    last = max(LAST_REACH_PX / per_mm, LAST_REACH_MM)
    reaches = (FIRST_REACH * side, *[min(last, FIRST_REACH * side)] * (PASSES - 1))
    blur = FIRST_BLUR
    for number, reach in enumerate(reaches):
        profiles = read_profiles(region, px_from_mm, borders, reach, exponent)
        if number == 1:
            blur = likely_blur(profiles, borders)
        shifts = border_shifts(profiles, borders, blur)
        found = _moved(borders, shifts, FLOOR_PX / per_mm)
        if found is None:
            return None
        change, away = found
        px_from_mm = _chained(px_from_mm, change)
    seen = shifts.sigma < LEAST_SURE
    close = np.abs(away[seen]) < max(IN_PLACE_MM, 1.0 / per_mm)
    residual = float(np.sqrt(np.mean(away[seen][close] ** 2))) if close.any() else 0.0
    return ExactPose(
        px_from_mm=px_from_mm,
        residual=residual * per_mm,
        share=float(close.mean()),
        seen=int(seen.sum()),
    )


def _moved(borders: Borders, shifts: Shifts, floor: float) -> tuple[FloatArray, FloatArray] | None:
    """Fit an affine change of the chart's millimetres to borders, robustly.

    Returns
    -------
    change : ndarray of shape (2, 3)
        From designed to seen millimetres.
    away : ndarray of shape (S,)
        What is left over along each normal, mm.
    """
    seen = shifts.sigma < LEAST_SURE
    if seen.sum() < LEAST_BORDERS:
        return None
    normals, middles = borders.normals, borders.middles
    centre = middles.mean(axis=0)
    scale = float(np.abs(middles - centre).max())
    place = np.column_stack([(middles - centre) / scale, np.ones(len(middles))])
    rows = (normals[:, :, None] * place[:, None, :]).reshape(len(middles), 6)
    # Ink that spreads moves all sides without a neighbour outward, and is no scale.
    rows = np.column_stack([rows, borders.gaps >= OPEN, shifts.hairline])
    weights = np.where(seen, 1 / np.hypot(shifts.sigma, floor), 0.0)
    solution = _robust(rows[seen], shifts.away[seen], weights[seen])
    if solution is None:
        return None
    moves = solution[:6].reshape(2, 3)
    linear = np.eye(2) + moves[:, :2] / scale
    shift = moves[:, 2] - moves[:, :2] @ centre / scale
    return np.column_stack([linear, shift]), shifts.away - rows @ solution


def _robust(rows: FloatArray, away: FloatArray, weights: FloatArray) -> FloatArray | None:
    """Least squares with the far ones left out; from the median of each direction on."""
    direction = np.abs(rows[:, 5]) > 0.5
    solution = np.zeros(UNKNOWNS)
    for column, own in ((2, ~direction), (5, direction)):
        if not own.any():
            return None
        solution[column] = np.median(away[own] / rows[own, column])
    keep: NDArray[np.bool_] = np.ones(len(rows), dtype=bool)
    for _ in range(8):
        left = away - rows @ solution
        spread = 1.4826 * float(np.median(np.abs(left[keep])))
        keep = np.abs(left) <= max(OUTLIER * spread, 0.02)
        if keep.sum() < LEAST_BORDERS:
            return None
        weighted = rows[keep] * weights[keep, None]
        # Without borders in one direction the pose keeps what it had there.
        ridge = 1e-3 * float(weights[keep].max()) * np.eye(UNKNOWNS)
        solution = np.linalg.lstsq(
            np.vstack([weighted, ridge]),
            np.concatenate([away[keep] * weights[keep], np.zeros(UNKNOWNS)]),
            rcond=None,
        )[0]
    return solution


def _chained(px_from_mm: FloatArray, change: FloatArray) -> FloatArray:
    """Apply a change of millimetres before a pose."""
    linear = px_from_mm[:, :2] @ change[:, :2]
    return np.column_stack([linear, px_from_mm[:, :2] @ change[:, 2] + px_from_mm[:, 2]])
