"""From solved terms to what each tile is multiplied with."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from colormatch.levelling.geometry import GlassAxes, glass_axes
from colormatch.levelling.records import LevelTile, TileGain
from colormatch.levelling.solving import Levels
from colormatch.levelling.terms import RGB_FROM_PARTS
from colormatch.model import FloatArray

SIGMA_SPACING = 18.0
"""The uncertainty is computed on a lattice of about this distance, mm."""


def gain_fields(levels: Levels, tiles: Sequence[LevelTile]) -> tuple[TileGain, ...]:
    """Give each tile's gain on the grid of its small picture.

    Parameters
    ----------
    levels : Levels
        From `solve`.
    tiles : sequence of LevelTile
        The same tiles in the same order.

    Returns
    -------
    tuple of TileGain
        Multiply the tile's linear light with ``gain``, stretched to its size.
    """
    return tuple(_gain_field(levels, tile, t) for t, tile in enumerate(tiles))


def _gain_field(levels: Levels, tile: LevelTile, index: int) -> TileGain:
    axes = glass_axes(tile)
    logs = log_light(levels, index, axes)
    sigma = _sigma(levels, index, axes)
    if axes.turned:
        logs, sigma = np.swapaxes(logs, 0, 1), sigma.T
    if tile.lamp is not None:
        logs = logs - np.log(tile.lamp)[..., None]
    return TileGain(
        gain=np.ascontiguousarray(np.exp(-logs), dtype=np.float32),
        sigma=np.ascontiguousarray(sigma, dtype=np.float32),
    )


def log_light(levels: Levels, index: int, axes: GlassAxes) -> FloatArray:
    """Log light of a tile over the true one, on the glass's axes: (m, n, 3)."""
    terms = levels.terms.on_grid(index, axes.lamp, axes.carriage, levels.fit.unknowns)
    parts = terms["field"] + terms["gain"] + terms["profile"] + terms["carriage"]
    logs: FloatArray = parts @ RGB_FROM_PARTS.T
    if levels.blank is not None:
        logs += levels.blank.on_grid(axes.lamp, axes.carriage)
    return logs


def _sigma(levels: Levels, index: int, axes: GlassAxes) -> FloatArray:
    """Uncertainty (m, n) of the mean log light, from a lattice."""
    from scipy.interpolate import RegularGridInterpolator

    lamp, way = (_lattice(a) for a in (axes.lamp, axes.carriage))
    places = np.stack(np.meshgrid(lamp, way), axis=-1).reshape(-1, 2)
    variance = variance_of(levels, index, places)
    read = RegularGridInterpolator((way, lamp), variance.reshape(len(way), len(lamp)))
    grid = np.stack(np.meshgrid(axes.carriage, axes.lamp, indexing="ij"), axis=-1)
    return np.sqrt(read(grid))


def variance_of(levels: Levels, index: int, glass: FloatArray) -> FloatArray:
    """Variance (N,) of a tile's mean log light at places (N, 2) on the glass."""
    columns, design = levels.terms.rows(index, glass)
    variance = levels.fit.variances(columns, design)
    if levels.blank is not None:
        variance = variance + levels.blank.sigma**2
    return variance


def _lattice(axis: FloatArray) -> FloatArray:
    """Few places in rising order from one end of an axis to the other."""
    low, high = float(axis.min()), float(axis.max())
    return np.linspace(low, high, max(2, int(np.ceil((high - low) / SIGMA_SPACING)) + 1))
