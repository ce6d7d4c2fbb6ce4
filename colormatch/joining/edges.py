"""Hints at shadows that one tile alone shows along its own edge.

Such a dark rim may as well be paint: it is reported, never repaired.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from colormatch.joining.records import BoolArray, Grid, GridTile, Remark
from colormatch.model import FloatArray

RIM = 2.0
"""Millimetres from the edge within which a contact shadow is gone."""
INSIDE = (4.0, 8.0)
"""Millimetres from the edge that the rim is compared with."""
CELL = 15.0
"""Millimetres of edge judged at a time."""
LEAST_DROP = 0.08
"""Share of light missing in the rim."""
LEAST_CELLS = 3
"""Neighbouring pieces of edge that must all be darker."""


def darker_edges(grid: Grid, tiles: Sequence[GridTile]) -> list[Remark]:
    """Find edges along which one tile alone is darker than a little farther in.

    Parameters
    ----------
    grid : Grid
    tiles : sequence of GridTile
        Matched and levelled.

    Returns
    -------
    list of Remark
        Of kind ``"edge"``.
    """
    covers = np.zeros((grid.height, grid.width), dtype=np.uint8)
    for tile in tiles:
        covers[tile.box.slices] += tile.valid
    remarks = []
    for tile in tiles:
        alone = tile.valid & (covers[tile.box.slices] == 1)
        remarks += _dark_runs(grid, tile, alone)
    return remarks


def _dark_runs(grid: Grid, tile: GridTile, alone: BoolArray) -> list[Remark]:
    """Neighbouring cells of a tile's edge that are all darker in their rim."""
    import cv2

    drop = _drops(grid, tile, alone)
    count, labels = cv2.connectedComponents((drop > LEAST_DROP).astype(np.uint8))
    remarks = []
    for k in range(1, count):
        cells = np.argwhere(labels == k)
        if len(cells) >= LEAST_CELLS:
            remarks.append(_remark(grid, tile, cells, float(np.median(drop[labels == k]))))
    return remarks


def _drops(grid: Grid, tile: GridTile, alone: BoolArray) -> FloatArray:
    """Share of light missing in the rim of each cell; 0 where it cannot be told."""
    side = max(1, round(CELL / grid.pixel))
    height, width = alone.shape
    drop = np.zeros((-(-height // side), -(-width // side)))
    near = alone & (tile.edge_distance < INSIDE[1])
    rows, columns = np.nonzero(near)
    if not len(rows):
        return drop
    cell = rows // side * drop.shape[1] + columns // side
    order = np.argsort(cell, kind="stable")
    which, starts = np.unique(cell[order], return_index=True)
    light = tile.light[rows, columns][order].mean(axis=1)
    distance = tile.edge_distance[rows, columns][order]
    for k, piece_light, piece_distance in zip(
        which, np.split(light, starts[1:]), np.split(distance, starts[1:]), strict=True
    ):
        drop.flat[k] = _drop(piece_light, piece_distance, side)
    return drop


def _drop(light: FloatArray, distance: FloatArray, least: int) -> float:
    rim, inside = light[distance < RIM], light[distance > INSIDE[0]]
    if min(len(rim), len(inside)) < least:
        return 0.0
    return float(1 - np.median(rim) / max(float(np.median(inside)), 1e-6))


def _remark(grid: Grid, tile: GridTile, cells: NDArray[np.integer], drop: float) -> Remark:
    side = max(1, round(CELL / grid.pixel))
    middle = (cells.mean(axis=0) + 0.5) * side - 0.5 + (tile.row, tile.column)
    x, y = (float(v) for v in grid.mm_of(middle[::-1]))
    length = CELL * len(cells)
    return Remark(
        kind="edge",
        tiles=(tile.name,),
        place=(x, y),
        size=(length, RIM),
        depth=drop,
        reason="",
        text=(
            f"near {x:.0f}, {y:.0f} mm, along about {length:.0f} mm of its edge, {tile.name} is "
            f"{drop:.0%} darker in the outermost {RIM:.0f} mm than farther in, and no other scan "
            "shows the place: if that is not paint, scan once more with this edge farther inside"
        ),
    )
