"""Where a pixel of a small picture lies: on the glass, and on the painting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.errors import InputError
from colormatch.levelling.records import LevelTile, PointMap
from colormatch.model import FloatArray

SKEW_ALLOWED = 1e-3
"""Largest off-axis share of a map to the glass: files turn by quarters only."""
INVERSE_STEPS = 6


def glass_map(mm_per_px: float, shape: tuple[int, int], turns: int = 0) -> FloatArray:
    """Map from pixels to millimetres on the glass.

    Parameters
    ----------
    mm_per_px : float
        Of the picture.
    shape : tuple of int
        Its rows and columns, as in the file.
    turns : int
        Quarter turns clockwise that the file received after the scanner wrote
        it; with an odd number the lamp lies along the file's columns.

    Returns
    -------
    ndarray of shape (2, 3)
        To (along the lamp, along the carriage's way).
    """
    rows, columns = (n - 1.0 for n in shape)
    unturned = (
        [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]],
        [[0.0, 1.0, 0.0], [-1.0, 0.0, columns]],
        [[-1.0, 0.0, columns], [0.0, -1.0, rows]],
        [[0.0, -1.0, rows], [1.0, 0.0, 0.0]],
    )
    return mm_per_px * np.array(unturned[turns % 4])


@dataclass(frozen=True, kw_only=True, eq=False)
class GlassAxes:
    """A tile's rows and columns as places on the glass.

    Attributes
    ----------
    lamp : ndarray of shape (n,)
        Millimetres along the lamp, one per column (per row if ``turned``).
    carriage : ndarray of shape (m,)
        Millimetres along the carriage's way, one per row (or column).
    turned : bool
        True if the lamp lies along the file's columns.
    """

    lamp: FloatArray
    carriage: FloatArray
    turned: bool


def glass_axes(tile: LevelTile) -> GlassAxes:
    """Split a tile's map to the glass into its two axes.

    Raises
    ------
    InputError
        If the map is not parallel to the axes.
    """
    matrix = np.asarray(tile.scanner_mm_from_px, dtype=float)
    size = np.abs(matrix[:, :2]) if matrix.shape == (2, 3) else np.zeros((2, 2))
    turned = bool(size[0, 1] > size[0, 0])
    along, across = (size[0, 1], size[1, 0]) if turned else (size[0, 0], size[1, 1])
    other = np.sort(size.ravel())[1]
    if min(along, across) <= 0 or other > SKEW_ALLOWED * min(along, across):
        raise InputError(
            f"{tile.name}: the map to the glass must run along the picture's axes; "
            "a file is turned by quarters only"
        )
    rows, columns = (np.arange(n, dtype=float) for n in tile.light.shape[:2])
    if turned:
        return GlassAxes(
            lamp=matrix[0, 1] * rows + matrix[0, 2],
            carriage=matrix[1, 0] * columns + matrix[1, 2],
            turned=True,
        )
    return GlassAxes(
        lamp=matrix[0, 0] * columns + matrix[0, 2],
        carriage=matrix[1, 1] * rows + matrix[1, 2],
        turned=False,
    )


def mapped(matrix: FloatArray, points: FloatArray) -> FloatArray:
    """Carry points (N, 2) through an affine map (2, 3)."""
    return np.asarray(points @ matrix[:, :2].T + matrix[:, 2])


def painting_map(tile: LevelTile) -> PointMap:
    """Give the map from pixels to painting millimetres as a function."""
    if callable(tile.mm_from_px):
        return tile.mm_from_px
    matrix = np.asarray(tile.mm_from_px, dtype=float)
    return lambda points: mapped(matrix, points)


def nearest_affine(tile: LevelTile) -> FloatArray:
    """Affine map (2, 3) closest to a tile's own from pixels to painting millimetres."""
    if not callable(tile.mm_from_px):
        return np.asarray(tile.mm_from_px, dtype=float)
    rows, columns = tile.light.shape[:2]
    y, x = np.meshgrid(np.linspace(0, rows - 1, 7), np.linspace(0, columns - 1, 7), indexing="ij")
    points = np.column_stack([x.ravel(), y.ravel()])
    design = np.column_stack([points, np.ones(len(points))])
    return np.asarray(np.linalg.lstsq(design, tile.mm_from_px(points), rcond=None)[0].T)


def pixels_at(tile: LevelTile, places: FloatArray) -> FloatArray:
    """Pixels (N, 2) of a tile at painting millimetres (N, 2).

    A map that is not affine is near one: a few steps with the affine's inverse
    find its own.
    """
    affine, forward = nearest_affine(tile), painting_map(tile)
    back = np.linalg.inv(affine[:, :2])
    points: FloatArray = (places - affine[:, 2]) @ back.T
    if callable(tile.mm_from_px):
        for _ in range(INVERSE_STEPS):
            points = points - (forward(points) - places) @ back.T
    return points
