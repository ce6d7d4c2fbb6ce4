"""The painting's edges on the canvas: set upright, cut square."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.errors import PlacingError
from colormatch.model import FloatArray
from colormatch.placing.poses import turning
from colormatch.placing.records import Placement
from colormatch.placing.tiles import Tile

LONG_SIDE = 700
"""Places looked at along the canvas's longer side."""
KNOTS_EVERY = 8
"""Of them, from one computed exactly to the next."""
CORNER = 0.06
"""Share of a side left out at each end: corners are rounded and frayed."""
INWARD = 0.9
"""Share of an edge's places that the cut leaves outside."""
ROUNDS = 12


@dataclass(frozen=True, kw_only=True, eq=False)
class Trim:
    """How to turn and cut the canvas.

    Attributes
    ----------
    angle : float
        Degrees clockwise that set the painting upright.
    box : tuple of float
        Left, top, right and bottom edge, canvas pixels after that turn;
        `Placement.with_canvas` takes both.
    skew : float
        Degrees by which neighbouring sides differ from square.
    """

    angle: float
    box: tuple[float, float, float, float]
    skew: float


def canvas_mask(tiles: tuple[Tile, ...], placement: Placement, spacing: float) -> NDArray[np.bool_]:
    """Where at least one tile shows painting, on a lattice over the canvas.

    Parameters
    ----------
    tiles : tuple of Tile
        As they were placed.
    placement : Placement
    spacing : float
        Canvas pixels; the first place is half a spacing inside.
    """
    columns = int(np.ceil(placement.width / spacing))
    rows = int(np.ceil(placement.height / spacing))
    x = (np.arange(columns) + 0.5) * spacing - 0.5
    y = (np.arange(rows) + 0.5) * spacing - 0.5
    found = np.zeros(rows * columns, dtype=bool)
    for k, tile in enumerate(tiles):
        at = np.stack(placement.scan_map(k, x, y, every=KNOTS_EVERY), axis=-1)
        found |= tile.shows(at.reshape(-1, 2))
    return found.reshape(rows, columns)


def trimmed(tiles: tuple[Tile, ...], placement: Placement) -> Trim:
    """Find the painting's edges in what all tiles show together.

    Raises
    ------
    PlacingError
        If fewer than a few rows or columns of painting are there.
    """
    spacing = max(1.0, max(placement.width, placement.height) / LONG_SIDE)
    mask = canvas_mask(tiles, placement, spacing)
    edges = [(points + 0.5) * spacing - 0.5 for points in _edges(mask)]
    slopes, lengths = zip(*(_slope(points, k) for k, points in enumerate(edges)), strict=True)
    tilts = np.array(slopes)
    angle = -float(np.average(tilts, weights=np.array(lengths)))
    skew = float(abs(tilts[:2].mean() - tilts[2:].mean()))
    turn = turning(angle)
    turned = [points @ turn.T for points in edges]
    half = spacing / 2.0
    box = (
        float(np.quantile(turned[0][:, 0], INWARD)) - half,
        float(np.quantile(turned[2][:, 1], INWARD)) - half,
        float(np.quantile(turned[1][:, 0], 1.0 - INWARD)) + half,
        float(np.quantile(turned[3][:, 1], 1.0 - INWARD)) + half,
    )
    return Trim(angle=angle, box=box, skew=skew)


def _edges(mask: NDArray[np.bool_]) -> list[FloatArray]:
    """Outermost painted places (x, y) at left, right, top and bottom."""
    sides: list[FloatArray] = []
    for across in (mask, mask.T):
        rows = np.flatnonzero(across.any(axis=1))
        if len(rows) < 8:
            raise PlacingError(
                "the painting's edges were not found on the joined picture: check that the "
                "scans show the painting, and state what to keep"
            )
        cut = int(CORNER * len(rows))
        rows = rows[cut : len(rows) - cut]
        first = across[rows].argmax(axis=1)
        last = across.shape[1] - 1 - across[rows][:, ::-1].argmax(axis=1)
        for place in (first, last):
            points = np.column_stack([place, rows]).astype(float)
            sides.append(points if across is mask else points[:, ::-1])
    return sides


def _slope(points: FloatArray, side: int) -> tuple[float, float]:
    """Clockwise tilt of one edge, degrees, by least absolute distance, and its length."""
    along, across = (points[:, 1], points[:, 0]) if side < 2 else (points[:, 0], points[:, 1])
    design = np.column_stack([along - along.mean(), np.ones(len(along))])
    weight = np.ones(len(along))
    for _ in range(ROUNDS):
        root = np.sqrt(weight)
        fit = np.linalg.lstsq(design * root[:, None], across * root, rcond=None)[0]
        weight = 1.0 / np.maximum(np.abs(across - design @ fit), 0.3)
    tilt = float(np.degrees(np.arctan(fit[0])))
    return (-tilt if side < 2 else tilt), float(np.ptp(along))
