"""What the joining stage is given: the canvas in small, and the tiles on it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray, Window

UNCOVERED = 255
"""Label of canvas that no tile shows."""
MOST_TILES = 64
"""Which tiles may be taken is kept as one bit per tile."""

BoolArray = NDArray[np.bool_]
LabelArray = NDArray[np.uint8]
Reader = Callable[[int, Window], FloatArray]
"""``read(tile, window)``: a canvas window at full resolution; NaN where the tile is not."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Grid:
    """The canvas in small: each grid pixel stands for ``step`` x ``step`` canvas pixels.

    Attributes
    ----------
    canvas_height, canvas_width : int
        Of the canvas, pixels.
    step : int
        Canvas pixels per grid pixel.
    mm_from_canvas : ndarray of shape (2, 3)
        Canvas pixels (x, y) to painting millimetres, a similarity.
    """

    canvas_height: int
    canvas_width: int
    step: int
    mm_from_canvas: FloatArray

    @property
    def height(self) -> int:
        """Grid rows; the last may stand for fewer canvas rows."""
        return -(-self.canvas_height // self.step)

    @property
    def width(self) -> int:
        """Grid columns."""
        return -(-self.canvas_width // self.step)

    @property
    def canvas_pixel(self) -> float:
        """Side of a canvas pixel, mm."""
        return float(np.sqrt(abs(np.linalg.det(self.mm_from_canvas[:, :2]))))

    @property
    def pixel(self) -> float:
        """Side of a grid pixel, mm."""
        return self.canvas_pixel * self.step

    def canvas_of(self, points: FloatArray) -> FloatArray:
        """Grid pixels (x, y), any leading shape, to canvas pixels."""
        return (np.asarray(points, dtype=float) + 0.5) * self.step - 0.5

    def mm_of_canvas(self, points: FloatArray) -> FloatArray:
        """Canvas pixels (x, y), any leading shape, to painting millimetres."""
        matrix = self.mm_from_canvas
        return np.asarray(points, dtype=float) @ matrix[:, :2].T + matrix[:, 2]

    def mm_of(self, points: FloatArray) -> FloatArray:
        """Grid pixels (x, y), any leading shape, to painting millimetres."""
        return self.mm_of_canvas(self.canvas_of(points))

    def canvas_of_mm(self, points: FloatArray) -> FloatArray:
        """Painting millimetres (x, y), any leading shape, to canvas pixels."""
        matrix = self.mm_from_canvas
        back = np.linalg.inv(matrix[:, :2])
        return (np.asarray(points, dtype=float) - matrix[:, 2]) @ back.T


@dataclass(frozen=True, kw_only=True)
class Box:
    """Grid rows ``top`` to ``bottom`` and columns ``left`` to ``right``, ends excluded."""

    top: int
    bottom: int
    left: int
    right: int

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.bottom - self.top, self.right - self.left

    @property
    def slices(self) -> tuple[slice, slice]:
        """To index an array of the whole grid."""
        return slice(self.top, self.bottom), slice(self.left, self.right)

    def within(self, other: Box) -> tuple[slice, slice]:
        """To index an array that covers ``other``, which holds this box."""
        return (
            slice(self.top - other.top, self.bottom - other.top),
            slice(self.left - other.left, self.right - other.left),
        )

    def shared(self, other: Box) -> Box | None:
        """Give the part common to both, or None."""
        top, bottom = max(self.top, other.top), min(self.bottom, other.bottom)
        left, right = max(self.left, other.left), min(self.right, other.right)
        if top >= bottom or left >= right:
            return None
        return Box(top=top, bottom=bottom, left=left, right=right)


@dataclass(frozen=True, kw_only=True, eq=False)
class GridTile:
    """One tile, matched and levelled, on a part of the grid.

    Attributes
    ----------
    name : str
        How messages call it.
    row, column : int
        Grid pixel at which its arrays begin.
    light : ndarray of float32, shape (h, w, 3)
        Linear light of the working space; anything where not valid.
    valid : ndarray of bool, shape (h, w)
        True where every canvas pixel under the grid pixel is shown by the tile.
    edge_distance : ndarray of float32, shape (h, w)
        Millimetres to the nearest place the tile does not show.
    """

    name: str
    row: int
    column: int
    light: FloatArray
    valid: BoolArray
    edge_distance: FloatArray

    @property
    def box(self) -> Box:
        """Where its arrays lie on the grid."""
        height, width = self.valid.shape
        return Box(
            top=self.row, bottom=self.row + height, left=self.column, right=self.column + width
        )


@dataclass(frozen=True, kw_only=True)
class Remark:
    """Something the report should say.

    Attributes
    ----------
    kind : str
        ``"shadow"`` (a worse tile was avoided), ``"unresolved"`` (two tiles
        differ and none is known to be right), ``"edge"`` (one tile alone is
        darker along its own edge), ``"softer"`` and ``"lifted"`` (a tile less
        sharp than another, and one that did not touch the glass), ``"region"``
        (a user's region that could not be followed everywhere).
    tiles : tuple of str
        Names; of two the avoided tile first.
    place : tuple of float
        Middle, painting millimetres.
    size : tuple of float
        Length and width, millimetres.
    depth : float
        Share of light missing (positive) or too much (negative); for softer and
        lifted places the blur, sigma in canvas pixels.
    reason : str
        Why this tile: ``"softer"``, ``"edge"``, ``"third"``, ``"surroundings"`` or "".
    text : str
        One sentence: what, where, what to do.
    box : tuple of float
        Upright box round the place: x, y, width, height, painting millimetres; all 0
        where none was measured.
    """

    kind: str
    tiles: tuple[str, ...]
    place: tuple[float, float]
    size: tuple[float, float]
    depth: float
    reason: str
    text: str
    box: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)


def overlap(first: GridTile, second: GridTile) -> tuple[Box, BoolArray] | None:
    """Give the box two tiles share and, in it, where both are valid; None if nowhere."""
    box = first.box.shared(second.box)
    if box is None:
        return None
    both = first.valid[box.within(first.box)] & second.valid[box.within(second.box)]
    return (box, both) if both.any() else None


def pairs_of(tiles: Sequence[GridTile]) -> list[tuple[int, int, Box, BoolArray]]:
    """Go through all pairs of tiles that overlap: indices, box, where both are valid."""
    found = []
    for i, first in enumerate(tiles):
        for j in range(i + 1, len(tiles)):
            shared = overlap(first, tiles[j])
            if shared is not None:
                found.append((i, j, *shared))
    return found
