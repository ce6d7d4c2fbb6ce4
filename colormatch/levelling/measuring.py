"""Log ratios of two tiles at the same places of the painting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from colormatch.errors import InputError
from colormatch.levelling.geometry import mapped, nearest_affine, painting_map, pixels_at
from colormatch.levelling.records import LevelTile, PairSamples
from colormatch.model import FloatArray

SPACING = 4.0
"""Distance of samples, mm."""
BLUR = 2.0
"""Standard deviation of the mean round each sample, mm."""
COVERED = 0.9
"""Least share of a sample's surroundings that must be painting, in both tiles."""
MISREGISTRATION = 0.1
"""How far two tiles may be off each other, mm, one sigma."""
REPEATABILITY = 0.003
"""Relative error of one sample; flatbeds repeat to 0.1-0.3 % (Med. Phys. 2015, 4929563)."""
BLACK_ERROR = 0.0007
"""Error of the black level and the scattered light between scans, linear."""
DARKEST = 0.004
"""Samples with a channel below this linear light are left out."""
BRIGHTEST = 1.15
"""Samples with a channel above this are glare or clipped."""
RIM_TRUST = 0.3
"""Share of the shift of a mean towards the painting's inside that stays uncorrected."""
FEWEST = 12
"""An overlap with fewer samples is no overlap."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _Blurred:
    """A tile, blurred over its valid part, ready to be read anywhere."""

    tile: LevelTile
    light: FloatArray
    slope: FloatArray
    shift: FloatArray
    covered: FloatArray
    box: FloatArray


def measure(
    tiles: Sequence[LevelTile],
    *,
    spacing: float = SPACING,
    misregistration: float = MISREGISTRATION,
) -> tuple[PairSamples, ...]:
    """Compare all tiles wherever two of them show the same place.

    Parameters
    ----------
    tiles : sequence of LevelTile
        Any number; any two may overlap or not.
    spacing : float
        Distance of the samples, mm.
    misregistration : float
        How far two tiles may be off each other, mm, one sigma: places where
        the light changes fast are trusted less.

    Returns
    -------
    tuple of PairSamples
        One for each two tiles with enough places in common.
    """
    names = [tile.name for tile in tiles]
    if len(set(names)) < len(names):
        raise InputError(f"tiles must have different names to be told apart (got {names})")
    blurred = [_blurred(tile) for tile in tiles]
    pairs = []
    for a, b in combinations(range(len(tiles)), 2):
        cells = _common_cells(blurred[a].box, blurred[b].box, spacing)
        if len(cells) < FEWEST:
            continue
        found = _compare(blurred, (a, b), cells, spacing, misregistration)
        if len(found.sigma) >= FEWEST:
            pairs.append(found)
    return tuple(pairs)


def _blurred(tile: LevelTile) -> _Blurred:
    from scipy.ndimage import gaussian_filter

    affine = nearest_affine(tile)
    mm_per_px = float(np.sqrt(abs(np.linalg.det(affine[:, :2]))))
    valid = tile.valid & np.all(np.isfinite(tile.light), axis=2)
    if not valid.any():
        raise InputError(f"{tile.name}: nothing of the painting is marked as valid")
    sigma = BLUR / mm_per_px
    covered = gaussian_filter(valid.astype(np.float32), sigma, mode="constant", truncate=3.0)
    light = np.where(valid[..., None], tile.light, 0.0).astype(np.float32)
    light = gaussian_filter(light, (sigma, sigma, 0), mode="constant", truncate=3.0)
    light /= np.maximum(covered, 1e-3)[..., None]
    light, shift = _centred(light, covered, sigma)
    down, across = np.gradient(np.log(np.maximum(light.mean(axis=2), DARKEST)))
    return _Blurred(
        tile=tile,
        light=light,
        slope=np.hypot(down, across) / mm_per_px,
        shift=RIM_TRUST * shift * mm_per_px,
        covered=np.where(valid, covered, 0.0),
        box=_bounds(tile, valid),
    )


def _centred(light: FloatArray, covered: FloatArray, sigma: float) -> tuple[FloatArray, FloatArray]:
    """Move means that were taken over one side only, at the rim, back to their places.

    The centre of a Gaussian mean over part of a plane lies off its place by
    sigma squared times the gradient of the log of its covered share.
    """
    off = [sigma**2 * g / np.maximum(covered, 0.2) for g in np.gradient(covered)]
    down, across = np.gradient(light, axis=(0, 1))
    moved = light - down * off[0][..., None] - across * off[1][..., None]
    return moved, np.hypot(*off)


def _bounds(tile: LevelTile, valid: NDArray[np.bool_]) -> FloatArray:
    """Lowest and highest painting millimetres of a tile's valid part, (2, 2)."""
    rows, columns = np.nonzero(valid)
    step = max(1, len(rows) // 4000)
    edge = np.concatenate([np.arange(0, len(rows), step), [columns.argmin(), columns.argmax()]])
    edge = np.append(edge, [0, len(rows) - 1])
    mm = painting_map(tile)(np.column_stack([columns[edge], rows[edge]]).astype(float))
    return np.stack([mm.min(axis=0), mm.max(axis=0)])


def _common_cells(one: FloatArray, two: FloatArray, spacing: float) -> NDArray[np.intp]:
    """Lattice rows and columns that both boxes cover, (N, 2)."""
    low = np.ceil(np.maximum(one[0], two[0]) / spacing).astype(int)
    high = np.floor(np.minimum(one[1], two[1]) / spacing).astype(int)
    rows, columns = np.meshgrid(
        np.arange(low[1], high[1] + 1), np.arange(low[0], high[0] + 1), indexing="ij"
    )
    return np.column_stack([rows.ravel(), columns.ravel()])


def _compare(
    blurred: Sequence[_Blurred],
    which: tuple[int, int],
    cells: NDArray[np.intp],
    spacing: float,
    misregistration: float,
) -> PairSamples:
    """Read two tiles at lattice cells and keep the places worth comparing."""
    places = cells[:, ::-1] * spacing
    read = [_read(blurred[t], places) for t in which]
    usable = np.logical_and(read[0].usable, read[1].usable)
    logs = [np.log(r.light[usable]) for r in read]
    noise = [
        _noise(r.light[usable], r.slope[usable], np.hypot(misregistration, r.shift[usable]))
        for r in read
    ]
    return PairSamples(
        first=which[0],
        second=which[1],
        places=places[usable],
        cells=cells[usable],
        glass_first=read[0].glass[usable],
        glass_second=read[1].glass[usable],
        ratio=logs[0] - logs[1],
        lamp_ratio=(read[0].lamp - read[1].lamp)[usable],
        light=np.exp((logs[0] + logs[1]) / 2),
        sigma=np.hypot(*noise),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Reading:
    light: FloatArray
    slope: FloatArray
    shift: FloatArray
    lamp: FloatArray
    glass: FloatArray
    usable: NDArray[np.bool_]


def _read(blurred: _Blurred, places: FloatArray) -> _Reading:
    """Read a tile at painting millimetres (N, 2)."""
    from scipy.ndimage import map_coordinates

    tile = blurred.tile
    points = pixels_at(tile, places)
    at = points[:, ::-1].T
    light = np.stack(
        [map_coordinates(blurred.light[..., c], at, order=3, mode="nearest") for c in range(3)],
        axis=1,
    )
    covered, slope, shift = (
        map_coordinates(plane, at, order=1, mode="constant").astype(float)
        for plane in (blurred.covered, blurred.slope, blurred.shift)
    )
    inside = (covered >= COVERED) & np.all((light > DARKEST) & (light < BRIGHTEST), axis=1)
    return _Reading(
        light=light.astype(float),
        slope=slope,
        shift=shift,
        lamp=lamp_at(tile, points),
        glass=mapped(np.asarray(tile.scanner_mm_from_px, dtype=float), points),
        usable=inside,
    )


def lamp_at(tile: LevelTile, points: FloatArray) -> FloatArray:
    """Log of the light divided out of a tile before, at its pixels (N, 2)."""
    if tile.lamp is None:
        return np.zeros(len(points))
    from scipy.ndimage import map_coordinates

    read = map_coordinates(np.log(tile.lamp), points[:, ::-1].T, order=1, mode="nearest")
    return np.asarray(read, dtype=float)


def _noise(light: FloatArray, slope: FloatArray, misregistration: FloatArray) -> FloatArray:
    """Error of log light at each sample: larger in darks and where light changes fast."""
    dark = np.sqrt(np.mean((BLACK_ERROR / light) ** 2, axis=1))
    shifted = slope * misregistration / np.sqrt(2)
    total: FloatArray = np.sqrt(REPEATABILITY**2 + dark**2 + shifted**2)
    return total
