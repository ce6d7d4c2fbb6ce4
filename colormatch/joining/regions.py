"""The user's regions on the grid: where the tile is given, and where no seam may run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.errors import InputError
from colormatch.joining.records import (
    UNCOVERED,
    BoolArray,
    Grid,
    GridTile,
    LabelArray,
    Remark,
)
from colormatch.model import FloatArray, KeptRegion, Regions, WholeBox

FRACTION_BITS = 4
"""Binary places kept of a corner's place on the grid."""


@dataclass(frozen=True, kw_only=True, eq=False)
class GridRegions:
    """The user's regions.

    Attributes
    ----------
    forced : ndarray of uint8, shape (height, width)
        The tile asked for; `UNCOVERED` where none is.
    groups : ndarray of int32, shape (height, width)
        0, or the number of the connected boxes that no seam may cross.
    may : ndarray of bool, shape (groups + 1, tiles)
        Which tiles show a group whole; row 0 is not used.
    keep : tuple of (int, ndarray)
        Tile and polygon in canvas pixels (x, y), in the order of the file.
    whole : tuple of (int, ndarray)
        Group and polygon in canvas pixels.
    remarks : tuple of Remark
    """

    forced: LabelArray
    groups: NDArray[np.int32]
    may: BoolArray
    keep: tuple[tuple[int, FloatArray], ...]
    whole: tuple[tuple[int, FloatArray], ...]
    remarks: tuple[Remark, ...]


def place_regions(grid: Grid, tiles: Sequence[GridTile], regions: Regions) -> GridRegions:
    """Bring the user's regions onto the grid.

    Raises
    ------
    InputError
        If a region lies off the canvas, its tile does not show it at all, no
        tile shows a whole box, or two regions contradict each other.
    """
    forced = np.full((grid.height, grid.width), UNCOVERED, dtype=np.uint8)
    names = [tile.name for tile in tiles]
    remarks: list[Remark] = []
    keep = []
    for region in regions.keep:
        if region.tile not in names:
            raise InputError(f"{region.where}: no scan is called {region.tile!r}")
        index = names.index(region.tile)
        polygon = grid.canvas_of_mm(np.array(region.polygon))
        remarks += _force(grid, forced, region, index, tiles[index], polygon)
        keep.append((index, polygon))
    masks = [_box_mask(grid, box) for box in regions.whole]
    groups, may = _grouped(grid, tiles, regions.whole, masks, forced)
    whole = [
        (int(groups[mask].max()), _corners(grid, box))
        for box, mask in zip(regions.whole, masks, strict=True)
    ]
    return GridRegions(
        forced=forced,
        groups=groups,
        may=may,
        keep=tuple(keep),
        whole=tuple(whole),
        remarks=tuple(remarks),
    )


def _force(
    grid: Grid,
    forced: LabelArray,
    region: KeptRegion,
    index: int,
    tile: GridTile,
    polygon: FloatArray,
) -> list[Remark]:
    """Write a tile into its region, where it can be had."""
    mask = _filled(grid, polygon)
    if not mask.any():
        raise InputError(f"{region.where}: the polygon lies outside the picture")
    shown = np.zeros_like(mask)
    shown[tile.box.slices] = tile.valid
    share = float(shown[mask].mean())
    if share == 0:
        raise InputError(
            f"{region.where}: {tile.name} does not show this place: choose a scan that does"
        )
    forced[mask & shown] = index
    if share == 1:
        return []
    rows, columns = np.nonzero(mask)
    x, y = (float(v) for v in grid.mm_of(np.array([columns.mean(), rows.mean()])))
    size = (float(np.ptp(columns) + 1) * grid.pixel, float(np.ptp(rows) + 1) * grid.pixel)
    text = f"{region.where}: {tile.name} shows only {share:.0%} of this place; the rest is not its"
    return [
        Remark(
            kind="region",
            tiles=(tile.name,),
            place=(x, y),
            size=size,
            depth=0.0,
            reason="",
            text=text,
        )
    ]


def _grouped(
    grid: Grid,
    tiles: Sequence[GridTile],
    boxes: Sequence[WholeBox],
    masks: Sequence[BoolArray],
    forced: LabelArray,
) -> tuple[NDArray[np.int32], BoolArray]:
    """Give connected boxes one number, and tell which tiles show each group whole."""
    import cv2

    union = np.zeros((grid.height, grid.width), dtype=np.uint8)
    for mask in masks:
        union |= mask
    count, labels = cv2.connectedComponents(union, connectivity=8)
    groups = np.asarray(labels, dtype=np.int32)
    may = np.zeros((count, len(tiles)), dtype=bool)
    for k in range(1, count):
        where = "; ".join(
            box.where for box, mask in zip(boxes, masks, strict=True) if groups[mask].max() == k
        )
        may[k] = _whole_tiles(tiles, groups == k, forced, where)
    return groups, may


def _whole_tiles(
    tiles: Sequence[GridTile], mask: BoolArray, forced: LabelArray, where: str
) -> BoolArray:
    """Which tiles show all of a group that any tile shows."""
    shares = np.zeros(len(tiles))
    covered = np.zeros_like(mask)
    for tile in tiles:
        covered[tile.box.slices] |= tile.valid
    needed = mask & covered
    for k, tile in enumerate(tiles):
        shares[k] = (needed[tile.box.slices] & tile.valid).sum() / max(needed.sum(), 1)
    best = int(shares.argmax())
    if shares[best] == 0:
        raise InputError(f"{where}: no scan shows anything there")
    if shares[best] < 1:
        raise InputError(
            f"{where}: no scan shows the box whole; {tiles[best].name} shows most of it "
            f"({shares[best]:.0%}): make the box smaller, or scan that place in one piece"
        )
    asked = [int(k) for k in np.unique(forced[mask]) if k != UNCOVERED]
    if len(asked) > 1 or (asked and shares[asked[0]] < 1):
        names = " and ".join(tiles[k].name for k in asked)
        raise InputError(
            f"{where}: no seam may cross this box, but [[keep]] regions ask for {names} in parts "
            "of it: change the one or the other"
        )
    may: BoolArray = shares == 1
    return may & (np.arange(len(tiles)) == asked[0]) if asked else may


def _corners(grid: Grid, box: WholeBox) -> FloatArray:
    x, y, width, height = box.box
    corners = [[x, y], [x + width, y], [x + width, y + height], [x, y + height]]
    return grid.canvas_of_mm(np.array(corners))


def _box_mask(grid: Grid, box: WholeBox) -> BoolArray:
    mask = _filled(grid, _corners(grid, box))
    if not mask.any():
        raise InputError(f"{box.where}: the box lies outside the picture")
    return mask


def _filled(grid: Grid, polygon: FloatArray) -> BoolArray:
    """Grid pixels that a polygon in canvas pixels covers or touches."""
    import cv2

    mask = np.zeros((grid.height, grid.width), dtype=np.uint8)
    corners = (polygon + 0.5) / grid.step - 0.5
    fixed = np.round(np.clip(corners, -1e4, 1e5) * 2**FRACTION_BITS).astype(np.int32)
    cv2.fillPoly(mask, [fixed], 1, shift=FRACTION_BITS)
    return mask > 0
