"""Which of two tiles shows the same place sharper, measured at full resolution."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.joining.energies import compare_blocks
from colormatch.joining.records import BoolArray, Box, Grid, GridTile, Reader, overlap
from colormatch.model import FloatArray, Window

BLOCK = 128
"""Side of a block, canvas pixels."""
SOFTER = 0.15
"""Natural log of the energy ratio: a blur of about sigma 0.45 px."""
LIFTED = 0.6
"""Likewise: the tile did not touch the glass there."""
PITCH = 4.5
"""Millimetres between blocks."""
MOST_BLOCKS = 500
"""Per pair of tiles; larger overlaps are sampled more widely."""
AT_ONCE = 16
"""Blocks that a thread takes on together."""
CERTAIN = 0.12
"""Standard deviation of a log ratio up to which a block is measurable."""
CLEAR = 4.0
"""Standard deviations by which a larger spread may be made up for."""
LEAST_COVER = 0.12
"""Weight of measured blocks around, out of 1, below which a place is not measurable."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Sharpness:
    """Two tiles compared block by block.

    Attributes
    ----------
    first, second : int
        Which tiles.
    corners : ndarray of int, shape (N, 2)
        Top left canvas pixels (row, column) of the blocks.
    cells : ndarray of int, shape (N, 2)
        Row and column of each block in the lattice of blocks.
    pitch : int
        Canvas pixels between blocks.
    log_ratio : ndarray of shape (N,)
        Natural log of the first tile's energy over the second's: below 0
        where the first is softer. NaN where there was nothing to read.
    spread : ndarray of shape (N,)
        Its standard deviation; infinite where nothing is in common.
    """

    first: int
    second: int
    corners: FloatArray
    cells: FloatArray
    pitch: int
    log_ratio: FloatArray
    spread: FloatArray

    @property
    def measurable(self) -> BoolArray:
        """Where the texture tells."""
        return self.spread < np.maximum(CERTAIN, np.abs(np.nan_to_num(self.log_ratio)) / CLEAR)


def measure_sharpness(
    grid: Grid,
    tiles: Sequence[GridTile],
    read: Reader,
    *,
    pitch: float = PITCH,
    most: int = MOST_BLOCKS,
) -> list[Sharpness]:
    """Compare every two overlapping tiles by blocks at full resolution.

    Parameters
    ----------
    grid : Grid
    tiles : sequence of GridTile
    read : callable
        ``read(tile, window)``: luminance, linear, float32 of shape (height,
        width), already on the canvas; NaN where the tile is not.
    pitch : float, optional
        Millimetres between blocks; widened where more than ``most`` would fit.
    most : int, optional
        Blocks per pair.

    Returns
    -------
    list of Sharpness
        One for each pair in which at least one block fits.
    """
    plans = {
        (i, j): plan
        for i, j in combinations(range(len(tiles)), 2)
        if (plan := plan_blocks(grid, tiles[i], tiles[j], pitch=pitch, most=most)) is not None
    }
    places = [(pair, corner) for pair, plan in plans.items() for corner in plan[0]]

    def compared(which: slice) -> list[tuple[float, float]]:
        return [_compared(*pair, corner, read) for pair, corner in places[which]]

    parts = [slice(k, k + AT_ONCE) for k in range(0, len(places), AT_ONCE)]
    # Two at a time: reading and warping let go of the interpreter.
    with ThreadPoolExecutor(2) as pool:
        found = iter([one for part in pool.map(compared, parts) for one in part])
    return [
        _sharpness(pair, plan, np.array([next(found) for _ in plan[0]]))
        for pair, plan in plans.items()
    ]


def _sharpness(
    pair: tuple[int, int], plan: tuple[FloatArray, FloatArray, int], found: FloatArray
) -> Sharpness:
    """Put together what was found at the blocks of a plan, rows of log ratio and spread."""
    corners, cells, pitch = plan
    return Sharpness(
        first=pair[0],
        second=pair[1],
        corners=corners,
        cells=cells,
        pitch=pitch,
        log_ratio=found[:, 0],
        spread=found[:, 1],
    )


def plan_blocks(
    grid: Grid, first: GridTile, second: GridTile, *, pitch: float = PITCH, most: int = MOST_BLOCKS
) -> tuple[FloatArray, FloatArray, int] | None:
    """Choose the blocks at which two tiles are compared.

    Returns
    -------
    tuple or None
        Top left canvas pixels (row, column), their place in the lattice, and
        the pitch in canvas pixels; None if no block lies wholly in both.
    """
    shared = overlap(first, second)
    if shared is None:
        return None
    box, both = shared
    area = both.sum() * grid.pixel**2
    spacing = max(pitch, float(np.sqrt(area / most)))
    step = max(1, round(spacing / grid.canvas_pixel))
    size = -(-BLOCK // grid.step) + 1
    whole = _all_within(both, size)
    rows = np.arange(box.top * grid.step, box.bottom * grid.step - BLOCK + 1, step)
    columns = np.arange(box.left * grid.step, box.right * grid.step - BLOCK + 1, step)
    cells = np.stack(np.meshgrid(np.arange(len(rows)), np.arange(len(columns)), indexing="ij"), -1)
    cells = cells.reshape(-1, 2)
    corners = np.stack([rows[cells[:, 0]], columns[cells[:, 1]]], axis=-1)
    at = np.minimum(corners // grid.step - (box.top, box.left), np.array(whole.shape) - 1)
    inside = whole[at[:, 0], at[:, 1]]
    inside &= (corners + BLOCK <= (grid.canvas_height, grid.canvas_width)).all(axis=1)
    return (corners[inside], cells[inside], step) if inside.any() else None


def _all_within(mask: BoolArray, size: int) -> BoolArray:
    """Where the square of ``size`` pixels that begins at a pixel is all True."""
    sums = np.zeros((mask.shape[0] + 1, mask.shape[1] + 1), dtype=np.int64)
    sums[1:, 1:] = mask.cumsum(axis=0).cumsum(axis=1)
    bottom = np.minimum(np.arange(mask.shape[0]) + size, mask.shape[0])
    right = np.minimum(np.arange(mask.shape[1]) + size, mask.shape[1])
    inner = sums[bottom][:, right] - sums[:-1][:, right] - sums[bottom][:, :-1] + sums[:-1, :-1]
    area = (bottom - np.arange(mask.shape[0]))[:, None] * (right - np.arange(mask.shape[1]))
    return np.asarray(inner == area)


def _compared(first: int, second: int, corner: FloatArray, read: Reader) -> tuple[float, float]:
    window = Window(row=int(corner[0]), column=int(corner[1]), height=BLOCK, width=BLOCK)
    return compare_blocks(read(first, window), read(second, window))


def softness_maps(
    grid: Grid, tiles: Sequence[GridTile], evidence: Sequence[Sharpness]
) -> list[FloatArray]:
    """Spread the blocks' finds over the grid.

    Returns
    -------
    list of ndarray of float32
        For each tile, of the shape of its arrays: by how much, in natural log
        of energy, it is softer than the sharpest tile that shows the same
        place, 0 or more. NaN where that is not measurable, or no other tile
        shows the place.
    """
    maps = [np.full(tile.valid.shape, np.nan, dtype=np.float32) for tile in tiles]
    for pair in evidence:
        shared = overlap(tiles[pair.first], tiles[pair.second])
        if shared is None:
            continue
        box, both = shared
        ratio = np.where(both, _spread_out(grid, box, pair), np.nan)
        for index, sign in ((pair.first, -1), (pair.second, 1)):
            part = maps[index][box.within(tiles[index].box)]
            part[...] = np.fmax(part, np.maximum(sign * ratio, 0))
    return maps


def _spread_out(grid: Grid, box: Box, pair: Sharpness) -> FloatArray:
    """Log ratio of a pair on the box's grid pixels; NaN where not measurable."""
    import cv2

    good = pair.measurable
    shape = tuple(pair.cells.max(axis=0) + 1)
    weight: NDArray[Any] = np.zeros(shape, np.float32)
    value: NDArray[Any] = np.zeros(shape, np.float32)
    cells = tuple(pair.cells[good].T)
    weight[cells] = 1
    value[cells] = pair.log_ratio[good]
    value = np.asarray(cv2.GaussianBlur(value, (3, 3), 0.6, borderType=cv2.BORDER_REPLICATE))
    weight = np.asarray(cv2.GaussianBlur(weight, (3, 3), 0.6, borderType=cv2.BORDER_REPLICATE))
    value = np.where(weight > LEAST_COVER, value / np.maximum(weight, 1e-6), np.nan)
    first = pair.corners[0] - pair.cells[0] * pair.pitch + (BLOCK - 1) / 2
    rows, columns = (
        ((np.arange(n) + start + 0.5) * grid.step - 0.5 - origin) / pair.pitch
        for n, start, origin in zip(box.shape, (box.top, box.left), first, strict=True)
    )
    down = np.clip(np.round(rows), 0, shape[0] - 1).astype(int)
    across = np.clip(np.round(columns), 0, shape[1] - 1).astype(int)
    nearest = value[down][:, across]
    smooth = _linear(value, rows, columns)
    return np.where(np.isnan(smooth), nearest, smooth)


def _linear(value: FloatArray, rows: FloatArray, columns: FloatArray) -> FloatArray:
    """Value between lattice places, linear; NaN beside NaN."""
    import cv2

    x, y = np.meshgrid(
        np.clip(columns, 0, value.shape[1] - 1).astype(np.float32),
        np.clip(rows, 0, value.shape[0] - 1).astype(np.float32),
    )
    small = value.astype(np.float32)
    return np.asarray(cv2.remap(small, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
