"""The sheet to print: strips in exact millimetres, a rule to check them by, advice."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from typing import Any

from colormatch.drawing.colours import Codes, ground_codes, patch_codes
from colormatch.drawing.raster import ring_discs
from colormatch.drawing.sheet_symbol import Box, dark_boxes, quiet_box
from colormatch.errors import LayoutError
from colormatch.model import Layout, Reference

POINTS_PER_MM = 72 / 25.4
PAGE = (210.0, 297.0)
"""A4, ISO 216, in millimetres."""

MARGIN = 10.0
COPIES = 2
FIRST_COPY_TOP = 42.0
COPY_GAP = 18.0

RULE_LENGTH = 100.0
RULE_THICKNESS = 0.2
RULE_GAP = 20.0
"""Between the last copy and the rule."""

CUT_NEAR = 1.0
CUT_FAR = 6.0
"""Where a cut line begins and ends, outside the strip."""

HAIRLINE = 0.1
LINE_STEP = 5.6
TEXT_SIZE = 3.4
SMALL_SIZE = 2.7
TITLE_SIZE = 5.2

ADVICE = (
    "Print at 100 % (actual size), never fitted to the page, at the best quality setting.",
    "Use matt paper without optical brighteners, heavy enough to lie flat.",
    "Colours in this file are sRGB. Let one program manage colour: with this paper's profile,",
    "relative colorimetric, black point compensation on, the printer's own correction off.",
    "Without a profile let the printer treat it as sRGB. Note which, and keep to it.",
    "Let the print dry for a day, away from light. Do not touch the patches.",
    "Measure the rule above. If it is not 100 mm within 0.3 mm, print again.",
    "Cut along the lines. One strip is the spare; each has its own serial and its own values.",
    "Have the strip you use measured (D50, 2°, M1 or M2), or carry values over from a sheet",
    "that was measured, by scanning both. Until then tiles agree, but no colour is true.",
    "Lay the strip face down beside the painting, clear of it, touching the glass.",
)

NOTES = ("Printed on", "Printer, ink", "Paper", "Colour set to", "Rule measured", "Values from")


def rule_top(layout: Layout) -> float:
    """Give where the check rule's line lies, millimetres below the page's top."""
    return FIRST_COPY_TOP + COPIES * layout.height + (COPIES - 1) * COPY_GAP + RULE_GAP


def copy_corners(layout: Layout) -> list[tuple[float, float]]:
    """Give the top left corners of the copies on the page.

    Parameters
    ----------
    layout : Layout
        The target.

    Returns
    -------
    list of tuple of float
        x and y in millimetres from the page's top left corner.

    Raises
    ------
    LayoutError
        If the copies do not fit on the page.
    """
    room = rule_top(layout) + LINE_STEP * (len(ADVICE) + 6)
    if layout.width > PAGE[0] - 2 * MARGIN or room > PAGE[1] - MARGIN:
        raise LayoutError(
            f"layout {layout.name}: {layout.width:g} x {layout.height:g} mm do not fit twice "
            f"on a page of {PAGE[0]:g} x {PAGE[1]:g} mm: make the target smaller"
        )
    left = (PAGE[0] - layout.width) / 2
    step = layout.height + COPY_GAP
    return [(left, FIRST_COPY_TOP + i * step) for i in range(COPIES)]


def draw_page(layout: Layout, reference: Reference, serials: Sequence[str] = ()) -> bytes:
    """Draw the sheet to print.

    Parameters
    ----------
    layout : Layout
        The target.
    reference : Reference
        Its nominal values, one for each patch.
    serials : sequence of str, optional
        What the symbol of each copy states; none are drawn without.

    Returns
    -------
    bytes
        A PDF page, A4 upright, the same bytes every time. Colours are sRGB codes
        given as DeviceRGB: the file embeds no profile, the advice on it says sRGB.

    Raises
    ------
    LayoutError
        If a patch has no value, a mark's kind is not known, or the target does
        not fit on the page.
    """
    page = Page(f"colormatch target {layout.name}")
    corners = copy_corners(layout)
    page.text(
        MARGIN + 5, 18, TITLE_SIZE, "Patch target for scanning beside the painting", bold=True
    )
    page.text(
        MARGIN + 5, 25, TEXT_SIZE, f"{layout.name}, {layout.width:g} × {layout.height:g} mm, twice"
    )
    for corner, serial in zip(corners, serials or [""] * COPIES, strict=True):
        _draw_copy(page, layout, reference, corner)
        draw_cut_lines(page, layout, corner)
        if serial:
            _draw_serial(
                page, layout, ground_codes(layout, patch_codes(layout, reference)), corner, serial
            )
    draw_rule(page, rule_top(layout))
    _draw_advice(page, rule_top(layout) + 16)
    return page.bytes()


class Page:
    """A PDF page measured in millimetres from its top left corner."""

    def __init__(self, title: str) -> None:
        from reportlab.pdfgen.canvas import Canvas

        self.buffer = BytesIO()
        size = (PAGE[0] * POINTS_PER_MM, PAGE[1] * POINTS_PER_MM)
        self.canvas: Any = Canvas(self.buffer, pagesize=size, invariant=1)
        self.canvas.setTitle(title)
        self.canvas.setCreator("colormatch")

    def box(self, x: float, y: float, width: float, height: float, codes: Codes) -> None:
        """Fill a box given by its top left corner."""
        self._fill(codes)
        bottom = (PAGE[1] - y - height) * POINTS_PER_MM
        size = width * POINTS_PER_MM, height * POINTS_PER_MM
        self.canvas.rect(x * POINTS_PER_MM, bottom, *size, stroke=0, fill=1)

    def boxes(self, boxes: Sequence[Box], codes: Codes) -> None:
        """Fill boxes as one shape, so that no renderer leaves seams between them."""
        self._fill(codes)
        path = self.canvas.beginPath()
        for x, y, width, height in boxes:
            bottom = (PAGE[1] - y - height) * POINTS_PER_MM
            path.rect(x * POINTS_PER_MM, bottom, width * POINTS_PER_MM, height * POINTS_PER_MM)
        self.canvas.drawPath(path, stroke=0, fill=1)

    def disc(self, x: float, y: float, radius: float, codes: Codes) -> None:
        """Fill a disc."""
        self._fill(codes)
        centre = x * POINTS_PER_MM, (PAGE[1] - y) * POINTS_PER_MM
        self.canvas.circle(*centre, radius * POINTS_PER_MM, stroke=0, fill=1)

    def text(self, x: float, y: float, size: float, words: str, *, bold: bool = False) -> None:
        """Write one line, its base line at ``y``."""
        self._fill((0, 0, 0))
        self.canvas.setFont("Helvetica-Bold" if bold else "Helvetica", size * POINTS_PER_MM)
        self.canvas.drawString(x * POINTS_PER_MM, (PAGE[1] - y) * POINTS_PER_MM, words)

    def centred(self, x: float, y: float, size: float, words: str) -> None:
        """Write one line round ``x``."""
        width = self.canvas.stringWidth(words, "Helvetica", size * POINTS_PER_MM)
        self.text(x - width / POINTS_PER_MM / 2, y, size, words)

    def bytes(self) -> bytes:
        """End the page and give the file."""
        self.canvas.showPage()
        self.canvas.save()
        return self.buffer.getvalue()

    def _fill(self, codes: Codes) -> None:
        self.canvas.setFillColorRGB(*(code / 255 for code in codes))


def _draw_copy(
    page: Page, layout: Layout, reference: Reference, corner: tuple[float, float]
) -> None:
    """Draw the target itself."""
    left, top = corner
    codes = patch_codes(layout, reference)
    ground = ground_codes(layout, codes)
    for field in layout.fields:
        page.box(left + field.x, top + field.y, field.width, field.height, ground[field.kind])
    for patch in layout.patches:
        page.box(left + patch.x, top + patch.y, patch.width, patch.height, codes[patch.id])
    for mark in layout.marks:
        for share, white in ring_discs(mark):
            colour = ground["white" if white else "black"]
            page.disc(left + mark.x, top + mark.y, share * mark.diameter / 2, colour)


def _draw_serial(
    page: Page,
    layout: Layout,
    ground: dict[str, Codes],
    corner: tuple[float, float],
    serial: str,
) -> None:
    """Draw the symbol, and say beside the cut lines what it states."""
    left, top = corner
    page.text(
        left + 2, top + layout.height + CUT_FAR + 1, SMALL_SIZE, f"{layout.name}, serial {serial}"
    )
    if layout.symbol is None:
        return
    x, y, width, height = quiet_box(layout.symbol)
    page.box(left + x, top + y, width, height, ground["white"])
    dark = dark_boxes(layout.symbol, serial)
    page.boxes([(left + x, top + y, w, h) for x, y, w, h in dark], ground["black"])


def draw_cut_lines(page: Page, layout: Layout, corner: tuple[float, float]) -> None:
    """Draw short lines outside the corners, so that the strip itself stays clean."""
    left, top = corner
    length = CUT_FAR - CUT_NEAR
    black = (0, 0, 0)
    for x in (left, left + layout.width):
        for y in (top - CUT_FAR, top + layout.height + CUT_NEAR):
            page.box(x - HAIRLINE / 2, y, HAIRLINE, length, black)
    for y in (top, top + layout.height):
        for x in (left - CUT_FAR, left + layout.width + CUT_NEAR):
            page.box(x, y - HAIRLINE / 2, length, HAIRLINE, black)


def draw_rule(page: Page, y: float) -> None:
    """Draw the check rule: its line, and ticks whose middles are whole millimetres apart."""
    left = (PAGE[0] - RULE_LENGTH) / 2
    black = (0, 0, 0)
    half = RULE_THICKNESS / 2
    page.box(left - half, y - half, RULE_LENGTH + 2 * half, RULE_THICKNESS, black)
    for i in range(round(RULE_LENGTH) + 1):
        height = 5.0 if i % 10 == 0 else 3.5 if i % 5 == 0 else 2.0
        page.box(left + i - half, y - height, RULE_THICKNESS, height, black)
        if i % 10 == 0:
            page.centred(left + i, y + 4, SMALL_SIZE, f"{i}")
    page.text(left + RULE_LENGTH + 4, y + 4, SMALL_SIZE, "mm")


def _draw_advice(page: Page, y: float) -> None:
    """Write how to print and use the strip, and lines to note how it was done."""
    for line in ADVICE:
        page.text(MARGIN + 5, y, TEXT_SIZE, line)
        y += LINE_STEP
    y += LINE_STEP / 2
    for i, note in enumerate(NOTES):
        x = MARGIN + 5 + 95 * (i % 2)
        page.text(x, y, TEXT_SIZE, note)
        page.box(x + 25, y + 0.8, 58, HAIRLINE, (0, 0, 0))
        y += 1.6 * LINE_STEP * (i % 2)
