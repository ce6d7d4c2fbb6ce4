"""What a report page is drawn from, as records: pictures, outlines, curves; no arithmetic."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray

Point = tuple[float, float]
Picture = NDArray[np.uint8]
"""Red, green, blue in sRGB, shape (height, width, 3)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class StripView:
    """A strip as a page draws it; points in pixels of the thumbnail, from its corner.

    Attributes
    ----------
    outline : tuple of Point
        The four corners.
    marks : tuple
        Centre, radius and whether it was seen, of each mark.
    patches : tuple of tuple of Point
        Four corners of each patch, in the layout's order.
    usable : tuple of bool
        Which patches took part.
    size : tuple of float
        Width and height of the strip, mm.
    boxes : tuple
        Name, x, y, width, height of each patch on the strip, mm.
    fields : tuple
        Kind, x, y, width, height of each printed ground, mm.
    """

    outline: tuple[Point, ...]
    marks: tuple[tuple[Point, float, bool], ...]
    patches: tuple[tuple[Point, ...], ...]
    usable: tuple[bool, ...]
    size: tuple[float, float]
    boxes: tuple[tuple[str, float, float, float, float], ...]
    fields: tuple[tuple[str, float, float, float, float], ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class TileView:
    """What a page draws of one tile.

    Attributes
    ----------
    thumbnail : Picture
        The scan in small, colours as scanned.
    strips : tuple of StripView
    per_mm : tuple of float
        Pixels of the thumbnail per millimetre, across and down; 0 where nobody knows.
    curve : ndarray of shape (n, 4)
        Encoded value, then linear light of red, green, blue; empty without a fit.
    lamp : ndarray of shape (n, 2)
        Place along the strip, -1 to 1, and light in percent of the middle's.
    """

    thumbnail: Picture
    strips: tuple[StripView, ...] = ()
    per_mm: tuple[float, float] = (0.0, 0.0)
    curve: FloatArray = field(default_factory=lambda: np.empty((0, 4)))
    lamp: FloatArray = field(default_factory=lambda: np.empty((0, 2)))


@dataclass(frozen=True, kw_only=True, eq=False)
class ResidualView:
    """Where two tiles were compared, and by how much they miss each other there.

    ``places`` (K, 2) and ``gaps`` (K, 2) are pixels of the joined picture, without
    places that were left out.
    """

    tiles: tuple[str, str]
    places: FloatArray
    gaps: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class FieldView:
    """What levelling did to one tile.

    Attributes
    ----------
    tile : str
    percent : ndarray of float32, shape (h, w)
        Change of light, mean of the channels, the tile as scanned; NaN beside
        the painting.
    """

    tile: str
    percent: NDArray[np.float32]


@dataclass(frozen=True, kw_only=True, eq=False)
class CropView:
    """A piece of the picture across a seam, pixel by pixel.

    Attributes
    ----------
    tiles : tuple of str
    box : tuple of float
        x, y, width, height on the picture, pixels.
    middle : Point
        On the picture, millimetres.
    delta_e : float
        Largest ΔE2000 of the seam in it.
    scanned, matched : Picture
        The tiles as scanned, and matched by their strips, placed and cut along a
        straight line.
    joined : Picture
        As written.
    ends, cuts : tuple of Point
        Where the seam, and the straight line, meet the rim; pixels of the piece.
    """

    tiles: tuple[str, str]
    box: tuple[float, float, float, float]
    middle: Point
    delta_e: float
    scanned: Picture
    matched: Picture
    joined: Picture
    ends: tuple[Point, ...]
    cuts: tuple[Point, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class MergeView:
    """What a page draws of a joined picture.

    Attributes
    ----------
    seams, grey : Picture
        The picture with the seams, each tile's part tinted; and in pale grey, to lay
        maps on.
    shades : dict
        Tile and its tint, sRGB 0 to 1.
    size : tuple of float
        Of the picture, pixels.
    residuals : tuple of ResidualView
    before, after : ndarray of float32
        ΔE2000 between tiles all over the picture, before and after levelling, the
        largest where more than two meet; NaN where fewer than two do.
    fields : tuple of FieldView
    shaded, soft : ndarray of bool
        Where a tile was avoided because it has a shadow or glare there, or because
        it is less sharp or did not touch the glass; all over the picture.
    pixel : float
        Side of the picture's pixel, millimetres.
    crops : tuple of CropView
    seams_left : int
        Seams that no piece is shown of.
    """

    seams: Picture
    grey: Picture
    shades: dict[str, tuple[float, float, float]]
    size: tuple[float, float]
    residuals: tuple[ResidualView, ...]
    before: NDArray[np.float32]
    after: NDArray[np.float32]
    fields: tuple[FieldView, ...]
    shaded: NDArray[np.bool_]
    soft: NDArray[np.bool_]
    pixel: float
    crops: tuple[CropView, ...] = ()
    seams_left: int = 0


@dataclass(frozen=True, kw_only=True, eq=False)
class Views:
    """Raw material of the page that is no figure: pictures, places, curves.

    ``tiles`` is by scan, as in `TileReport.scan`.
    """

    tiles: dict[str, TileView] = field(default_factory=dict)
    merged: MergeView | None = None
