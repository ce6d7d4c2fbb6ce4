"""The strip as a picture: pixels of exact area coverage."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.transfer import decode_srgb, encode_srgb
from colormatch.drawing.colours import Codes, ground_codes, patch_codes
from colormatch.drawing.coverage import box_coverage, disc_coverage
from colormatch.drawing.sheet_symbol import Box, dark_boxes, quiet_box
from colormatch.errors import LayoutError
from colormatch.model import RING_EDGES, FloatArray, Layout, Mark, Reference

MM_PER_INCH = 25.4

BLEED = 1.0
"""Millimetres by which what touches the sheet's border is drawn beyond it, so that the
last pixel, which the border may cut, is filled."""


def draw_raster(
    layout: Layout, reference: Reference, ppi: float = 600.0, *, serial: str = ""
) -> NDArray[np.uint8]:
    """Draw a target.

    Parameters
    ----------
    layout : Layout
        The target; the top left corner of the picture is its origin.
    reference : Reference
        Its nominal values, one for each patch.
    ppi : float, optional
        Pixels per inch.
    serial : str, optional
        What the sheet's symbol states; without one, or where the layout has no
        symbol, none is drawn.

    Returns
    -------
    ndarray of uint8, shape (H, W, 3)
        sRGB; edges are mixed in linear light by the area they cover. A patch comes
        back as the very codes whose colour the reference states.

    Raises
    ------
    LayoutError
        If a patch has no value or a mark's kind is not known.
    """
    sheet = _Sheet(layout, ppi)
    codes = patch_codes(layout, reference)
    ground = ground_codes(layout, codes)
    for field in layout.fields:
        sheet.box(field.x, field.y, field.width, field.height, ground[field.kind])
    for patch in layout.patches:
        sheet.box(patch.x, patch.y, patch.width, patch.height, codes[patch.id])
    for mark in layout.marks:
        for share, white in ring_discs(mark):
            colour = ground["white" if white else "black"]
            sheet.disc(mark.x, mark.y, share * mark.diameter / 2, colour)
    if serial and layout.symbol is not None:
        sheet.box(*quiet_box(layout.symbol), ground["white"])
        sheet.boxes(dark_boxes(layout.symbol, serial), ground["black"])
    return sheet.encoded()


def ring_discs(mark: Mark) -> list[tuple[float, bool]]:
    """Give the discs that, drawn over each other, make a mark.

    Returns
    -------
    list of tuple
        Radius as a share of the mark's own, and whether it is paper; largest first.

    Raises
    ------
    LayoutError
        If the mark's kind is not one of `RING_EDGES`.
    """
    edges = RING_EDGES.get(mark.kind)
    if edges is None:
        known = ", ".join(sorted(RING_EDGES))
        raise LayoutError(f"mark {mark.id}: unknown kind {mark.kind!r}: known are {known}")
    discs = [(edge, i % 2 == 1) for i, edge in enumerate(edges)]
    # Two discs of one size would leave a pale fringe of the lower one.
    return discs if edges[0] == 1 else [(1.0, True), *discs]


class _Sheet:
    """A picture in linear light, drawn on in millimetres."""

    def __init__(self, layout: Layout, ppi: float) -> None:
        self.per_mm = ppi / MM_PER_INCH
        self.size = (layout.width, layout.height)
        columns, rows = (max(1, round(length * self.per_mm)) for length in self.size)
        self.light = np.ones((rows, columns, 3), dtype=np.float32)
        self.x_edges = np.arange(columns + 1) / self.per_mm
        self.y_edges = np.arange(rows + 1) / self.per_mm

    def box(self, x: float, y: float, width: float, height: float, codes: Codes) -> None:
        """Fill a box."""
        self.boxes([(x, y, width, height)], codes)

    def boxes(self, boxes: Sequence[Box], codes: Codes) -> None:
        """Fill boxes that touch at most, as one shape: no pale seams between them."""
        sides = [
            (*self._ends(x, width, self.size[0]), *self._ends(y, height, self.size[1]))
            for x, y, width, height in boxes
        ]
        lefts, rights, tops, bottoms = zip(*sides, strict=True)
        columns = _span(self.x_edges, min(lefts), max(rights))
        rows = _span(self.y_edges, min(tops), max(bottoms))
        borders = _borders(self.y_edges, rows), _borders(self.x_edges, columns)
        share = sum(
            np.outer(box_coverage(top, bottom, borders[0]), box_coverage(left, right, borders[1]))
            for left, right, top, bottom in sides
        )
        self._mix(rows, columns, np.asarray(share), codes)

    def disc(self, x: float, y: float, radius: float, codes: Codes) -> None:
        """Fill a disc round ``x`` and ``y``."""
        columns = _span(self.x_edges, x - radius, x + radius)
        rows = _span(self.y_edges, y - radius, y + radius)
        borders = _borders(self.x_edges, columns), _borders(self.y_edges, rows)
        self._mix(rows, columns, disc_coverage((x, y), radius, *borders), codes)

    def encoded(self) -> NDArray[np.uint8]:
        """Give the picture as sRGB codes."""
        return np.round(encode_srgb(self.light) * 255).astype(np.uint8)

    def _ends(self, start: float, length: float, sheet: float) -> tuple[float, float]:
        end = start + length
        return start - BLEED * (start <= 0), end + BLEED * (end >= sheet)

    def _mix(self, rows: slice, columns: slice, share: FloatArray, codes: Codes) -> None:
        light = decode_srgb(np.array(codes, dtype=np.float32) / 255)
        view = self.light[rows, columns]
        view += (light - view) * share[..., None].astype(np.float32)


def _span(edges: FloatArray, low: float, high: float) -> slice:
    """Give the pixels that lie between ``low`` and ``high`` at least in part."""
    first = max(int(np.searchsorted(edges, low, side="right")) - 1, 0)
    last = min(int(np.searchsorted(edges, high, side="left")), len(edges) - 1)
    return slice(first, last)


def _borders(edges: FloatArray, pixels: slice) -> FloatArray:
    return edges[pixels.start : pixels.stop + 1]
