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
    curve : ndarray of shape (n, 4)
        Encoded value, then linear light of red, green, blue; empty without a fit.
    lamp : ndarray of shape (n, 2)
        Place along the strip, -1 to 1, and light in percent of the middle's.
    """

    thumbnail: Picture
    strips: tuple[StripView, ...] = ()
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
class MergeView:
    """What a page draws of a joined picture.

    Attributes
    ----------
    seams, levelling : Picture
        Maps of the picture: which part is from which tile; what changed its light.
    full_tint : float
        Change of light, percent, that the second shows in its full tint.
    shades : dict
        Tile and its tint in the first, sRGB 0 to 1.
    size : tuple of float
        Of the picture, pixels.
    residuals : tuple of ResidualView
    """

    seams: Picture
    levelling: Picture
    full_tint: float
    shades: dict[str, tuple[float, float, float]]
    size: tuple[float, float]
    residuals: tuple[ResidualView, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Views:
    """Raw material of the page that is no figure: pictures, places, curves.

    ``tiles`` is by scan, as in `TileReport.scan`.
    """

    tiles: dict[str, TileView] = field(default_factory=dict)
    merged: MergeView | None = None
