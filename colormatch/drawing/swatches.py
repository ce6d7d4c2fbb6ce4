"""The sheet for a painter's own paints as a page: empty boxes, marks, and how to use it."""

from __future__ import annotations

from colormatch.drawing.page import (
    MARGIN,
    PAGE,
    SMALL_SIZE,
    TEXT_SIZE,
    TITLE_SIZE,
    Page,
    draw_cut_lines,
    draw_rule,
)
from colormatch.drawing.raster import ring_discs
from colormatch.errors import LayoutError
from colormatch.model import Layout

SHEET_TOP = 39.0
OUTLINE = 0.3
NUMBER_GAP = 1.2
"""Between a number and its box."""
RULE_GAP = 15.0
"""Between the sheet and the rule's line."""
LEAST_STEP, MOST_STEP = 4.2, 5.4
"""Between lines of text: more where the sheet leaves room."""
TEXT_STEP = 9.0
"""Between the rule and the text."""
LETTER_ROOM = 281.0
"""Lowest line, mm: a page of A4 in the middle of US Letter loses 9 mm at each end."""

ADVICE = (
    "Print at 100 % on heavy matt paper without brighteners, and check the rule above.",
    "Paint each box with one paint as you use it: from the tube, mixed, with white, or as a wash.",
    "Take what the picture is made of: its lightest, darkest and strongest hues, and mixtures.",
    "Cover the middle 10 mm of a box evenly. Boxes may stay empty: from 6 paints on they help,",
    "from 12 on they help most. Note in swatches.csv which paint is in which box.",
    "Varnish them if the picture is varnished. Wait until they are hard: a day for water paints,",
    "weeks for oil. What is still soft never goes on the glass.",
    "Have every box measured by a spectrophotometer (a print shop does it), at its middle, in the",
    "same condition as the strip, and write the values into swatches.csv.",
    "Scan this sheet with the strip beside it, same settings as the painting's tiles.",
)
CAUTION = (
    "Some pigments (lead, cadmium, chrome, cobalt, arsenic, mercury) are poisonous. Read labels",
    "and safety sheets; paint wet, never sand or scrape dry; no food, gloves, wash your hands;",
    "fresh air with solvents. Out of children's reach. Dispose of it as the local rules say.",
)


def draw_swatch_page(layout: Layout) -> bytes:
    """Draw the sheet to print and to paint.

    Parameters
    ----------
    layout : Layout
        The sheet; its patches are the boxes.

    Returns
    -------
    bytes
        A PDF page, A4 upright, the same bytes every time; what is on it stays on the
        paper when it is printed at 100 % on US Letter.

    Raises
    ------
    LayoutError
        If the sheet is too large for a page, or a mark's kind is not known.
    """
    left, rule = (PAGE[0] - layout.width) / 2, SHEET_TOP + layout.height + RULE_GAP
    step = (LETTER_ROOM - rule - TEXT_STEP) / (len(ADVICE) + len(CAUTION))
    if layout.width > PAGE[0] - 2 * MARGIN or step < LEAST_STEP:
        raise LayoutError(
            f"layout {layout.name}: {layout.width:g} x {layout.height:g} mm do not fit on a page "
            "with their instructions: take fewer boxes"
        )
    page = Page(f"colormatch {layout.name}")
    page.text(MARGIN + 5, 24, TITLE_SIZE, "Swatches of your own paints", bold=True)
    page.text(
        MARGIN + 5,
        30,
        TEXT_SIZE,
        f"{layout.name}, {layout.width:g} × {layout.height:g} mm, to be scanned beside the strip",
    )
    _draw_sheet(page, layout, left)
    draw_cut_lines(page, layout, (left, SHEET_TOP))
    draw_rule(page, rule)
    _draw_text(page, rule + TEXT_STEP, min(step, MOST_STEP))
    return page.bytes()


def _draw_sheet(page: Page, layout: Layout, left: float) -> None:
    """Draw boxes, numbers and marks."""
    black, white = (0, 0, 0), (255, 255, 255)
    for patch in layout.patches:
        x, y = left + patch.x, SHEET_TOP + patch.y
        page.box(x, y, patch.width, patch.height, (150, 150, 150))
        inside = patch.width - 2 * OUTLINE, patch.height - 2 * OUTLINE
        page.box(x + OUTLINE, y + OUTLINE, *inside, white)
        page.text(x, y - NUMBER_GAP, SMALL_SIZE, patch.id)
    for mark in layout.marks:
        for share, paper in ring_discs(mark):
            radius = share * mark.diameter / 2
            page.disc(left + mark.x, SHEET_TOP + mark.y, radius, white if paper else black)


def _draw_text(page: Page, y: float, step: float) -> None:
    for number, line in enumerate((*ADVICE, *CAUTION)):
        y += step
        page.text(MARGIN + 5, y, 0.6 * step, line, bold=number >= len(ADVICE))
