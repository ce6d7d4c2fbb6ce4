"""Where two placed tiles show the same paint, and where to compare them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray
from colormatch.placing.poses import Pose
from colormatch.placing.tiles import Tile


@dataclass(frozen=True, kw_only=True, eq=False)
class Overlap:
    """What tile ``first`` shares with another.

    Attributes
    ----------
    shared : ndarray of bool
        On a lattice over the first tile's scan.
    spacing : float
        Of the lattice, scan pixels; its first place is half a spacing inside.
    share : float
        Shared area over the smaller tile's painted area.
    width : float
        Side of the largest upright square inside, scan pixels.
    """

    shared: NDArray[np.bool_]
    spacing: float
    share: float
    width: float


def painted_ends(tile: Tile) -> FloatArray:
    """Corners (N, 2), scan pixels, of the first and last painted place of every row."""
    mask = tile.painted
    rows = np.flatnonzero(mask.any(axis=1))
    first = mask[rows].argmax(axis=1)
    last = mask.shape[1] - mask[rows][:, ::-1].argmax(axis=1)
    # The overview leaves out what does not fill a block at the right and below.
    right = np.where(last == mask.shape[1], tile.width, last * tile.step)
    below = np.where(rows + 1 == mask.shape[0], tile.height, (rows + 1) * tile.step)
    x = np.concatenate([first * tile.step, right, first * tile.step, right])
    y = np.concatenate([rows * tile.step, rows * tile.step, below, below])
    return np.column_stack([x, y]) - 0.5


def painted_mm2(tile: Tile) -> float:
    """Painted area of a tile, square millimetres."""
    pixel = 25.4 * 25.4 / (tile.ppi[0] * tile.ppi[1])
    return float(tile.lattice.painted.sum() * tile.lattice.spacing**2 * pixel)


def overlap(first: Tile, second: Tile, pose_first: Pose, pose_second: Pose) -> Overlap:
    """Find what two tiles share if they lie as the poses say."""
    import cv2

    spacing, painted = first.lattice.spacing, first.lattice.painted
    points = first.lattice.points[painted]
    there = pose_second.scan_from_painting(pose_first.painting_from_scan(points))
    shared = painted.copy()
    shared[painted] = second.shows(there)
    shared = shared.reshape(first.lattice.shape)
    pixel = 25.4 * 25.4 / (first.ppi[0] * first.ppi[1])
    area = float(shared.sum() * spacing**2 * pixel)
    smaller = max(min(painted_mm2(first), painted_mm2(second)), 1e-9)
    framed = np.pad(shared, 1).astype(np.uint8)
    reach = cv2.distanceTransform(framed, cv2.DIST_C, 3).max()
    width = max(0.0, (2.0 * float(reach) - 1.0) * spacing)
    return Overlap(shared=shared, spacing=spacing, share=area / smaller, width=width)


def block_centres(
    shared: Overlap, side: float, pitch: float, across: float | None = None
) -> FloatArray:
    """Centres (N, 2), scan pixels, of squares that lie wholly in the overlap.

    Parameters
    ----------
    shared : Overlap
        Of the tile in whose pixels the centres are.
    side : float
        Of a square, scan pixels.
    pitch : float
        Least distance between rows of centres, scan pixels.
    across : float or None
        Least distance along a row; None for the same.
    """
    import cv2

    framed = np.pad(shared.shared, 1).astype(np.uint8)
    reach = cv2.distanceTransform(framed, cv2.DIST_C, 3)[1:-1, 1:-1]
    fits = reach >= side / 2.0 / shared.spacing
    rows = np.flatnonzero(fits.any(axis=1))
    if rows.size == 0:
        return np.zeros((0, 2))
    step = (pitch if across is None else across) / shared.spacing
    centres: list[tuple[int, int]] = []
    for row in _spread(rows[0], rows[-1], pitch / shared.spacing):
        columns = np.flatnonzero(fits[row])
        for run in np.split(columns, np.flatnonzero(np.diff(columns) > 1) + 1):
            if run.size:
                places = _spread(run[0], run[-1], step)
                centres.extend((int(column), int(row)) for column in places)
    lattice = np.array(centres, dtype=np.float64).reshape(-1, 2)
    return np.asarray((lattice + 0.5) * shared.spacing - 0.5)


def _spread(low: int, high: int, pitch: float) -> NDArray[np.intp]:
    """Whole numbers from low to high, evenly, at least ``pitch`` apart."""
    count = max(1, int((high - low) / max(pitch, 1.0)) + 1)
    if count == 1:
        return np.array([(low + high) // 2], dtype=np.intp)
    return np.round(np.linspace(low, high, count)).astype(np.intp)
