"""Which tile any window of the canvas is taken from, once seams are refined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.joining.curves import BAND, MARGIN, Curve, continued
from colormatch.joining.records import UNCOVERED, BoolArray, Grid, GridTile, LabelArray
from colormatch.joining.scanlines import Crossings, crossings, inside_in, labels_in, repaired
from colormatch.joining.seams import LabelMap
from colormatch.model import FloatArray, Window


@dataclass(frozen=True, kw_only=True, eq=False)
class Lookup:
    """Labels of the canvas, kept as what changes in each row.

    Attributes
    ----------
    grid : Grid
    table : Crossings
        Of the refined seams and all other borders.
    begin : ndarray of uint8, shape (rows of the canvas,)
        Label at the far left.
    given : tuple of (int, Crossings)
        Tile and outline of the user's regions, followed to the pixel.
    decided : ndarray of uint8
        Labels on the grid.
    shown : ndarray of uint64
        On the grid, one bit for each tile that shows a place.
    risky : ndarray of bool
        On the grid, where a moved seam could give a place to a tile that does
        not show it.
    """

    grid: Grid
    table: Crossings
    begin: LabelArray
    given: tuple[tuple[int, Crossings], ...]
    decided: LabelArray
    shown: NDArray[np.uint64]
    risky: BoolArray

    def labels(self, window: Window) -> LabelArray:
        """Give the tile of each pixel of a canvas window, (height, width)."""
        labels = labels_in(window, self.table, self.begin)
        risky = on_grid(self.grid, self.risky, window)
        if risky.any():
            self._put_right(labels, risky, window)
        for tile, outline in self.given:
            mask = inside_in(window, outline)
            if mask.any():
                rows, columns = np.nonzero(mask)
                shown = self._shows(np.uint64(tile), *self._cells(rows, columns, window))
                labels[rows[shown], columns[shown]] = tile
        return labels

    def _put_right(self, labels: LabelArray, risky: BoolArray, window: Window) -> None:
        """Give pixels of a tile that does not show them back to the one decided on."""
        rows, columns = np.nonzero(risky)
        cells = self._cells(rows, columns, window)
        taken, decided = labels[rows, columns], self.decided[cells]
        shown = self._shows(np.minimum(taken, 63).astype(np.uint64), *cells)
        shown &= (taken != UNCOVERED) & (decided != UNCOVERED)
        labels[rows, columns] = np.where(shown, taken, decided)

    def _cells(
        self, rows: NDArray[np.integer], columns: NDArray[np.integer], window: Window
    ) -> tuple[NDArray[np.integer], NDArray[np.integer]]:
        step = self.grid.step
        return (rows + window.row) // step, (columns + window.column) // step

    def _shows(
        self,
        tile: np.uint64 | NDArray[np.uint64],
        rows: NDArray[np.integer],
        columns: NDArray[np.integer],
    ) -> BoolArray:
        return np.asarray((self.shown[rows, columns] >> tile) & np.uint64(1) == 1)


def on_grid(grid: Grid, values: BoolArray, window: Window) -> NDArray[np.bool_]:
    """Enlarge a part of an array of the grid to a canvas window."""
    rows = np.arange(window.row, window.row + window.height) // grid.step
    columns = np.arange(window.column, window.column + window.width) // grid.step
    return np.asarray(values[rows][:, columns])


def make_lookup(
    grid: Grid,
    tiles: Sequence[GridTile],
    decided: LabelMap,
    curves: Sequence[Curve],
    refined: Sequence[FloatArray],
) -> Lookup:
    """Prepare the lookup.

    Parameters
    ----------
    grid : Grid
    tiles : sequence of GridTile
    decided : LabelMap
    curves : sequence of Curve
        All borders.
    refined : sequence of ndarray of shape (N, 2)
        For each of them, its points after refinement, canvas pixels.
    """
    rows = np.arange(grid.canvas_height) // grid.step + MARGIN
    begin, end = continued(decided.labels)[rows][:, [0, -1]].T
    pairs = [(curve.plus, curve.minus) for curve in curves]
    lines = [(points, *pair) for points, pair in zip(refined, pairs, strict=True)]
    stairs = [(curve.corners, *pair) for curve, pair in zip(curves, pairs, strict=True)]
    table = crossings(lines, grid.canvas_height)
    shown, risky = _risks(grid, tiles, decided.labels)
    return Lookup(
        grid=grid,
        table=repaired(table, crossings(stairs, grid.canvas_height), begin, end),
        begin=begin,
        given=tuple(_given(decided, grid.canvas_height)),
        decided=decided.labels,
        shown=shown,
        risky=risky,
    )


def _risks(
    grid: Grid, tiles: Sequence[GridTile], labels: LabelArray
) -> tuple[NDArray[np.uint64], BoolArray]:
    """Give one bit per tile that shows a place, and where a moved seam could overlook it."""
    import cv2

    shown = np.zeros(labels.shape, dtype=np.uint64)
    risky = np.asarray(labels == UNCOVERED)
    size = 2 * (round(BAND / grid.step) + 1) + 1
    around = np.ones((size, size), np.uint8)
    for k, tile in enumerate(tiles):
        here = np.zeros(labels.shape, dtype=bool)
        here[tile.box.slices] = tile.valid
        shown |= np.where(here, np.uint64(1 << k), np.uint64(0))
        near = np.asarray(cv2.dilate((labels == k).astype(np.uint8), around)) > 0
        risky |= near & ~here
    return shown, risky


def _given(decided: LabelMap, rows: int) -> list[tuple[int, Crossings]]:
    """Give the user's regions as closed lines, with the tile each is taken from."""
    regions = decided.regions
    wanted = [
        (int(decided.labels[regions.groups == group].min()), polygon)
        for group, polygon in regions.whole
    ]
    wanted += list(regions.keep)
    return [
        (tile, crossings([(np.concatenate([polygon, polygon[:1]]), 1, 1)], rows))
        for tile, polygon in wanted
        if tile != UNCOVERED
    ]
