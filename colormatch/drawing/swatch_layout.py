"""The sheet for a painter's own paints: numbered empty boxes between ring marks.

Rules
-----
* Nine columns of boxes of 15 mm; as many rows as the number of boxes asks for, seven at
  most. So the number of rows alone says how large the sheet is, and with a strip it fits
  on the glass of an A4 scanner.
* The marks are of the strips' kinds, but two eyes above and two hoops below, each at its
  own distance from the border: no strip has that, and no turn looks like another.
* All ground is bare paper, the number stands above its box.
"""

from __future__ import annotations

from colormatch.model import Layout, Mark, Patch

FEWEST, MOST = 6, 60
"""Boxes on a sheet."""
COLUMNS = 9
WIDTH = 180.0
BOX = 15.0
PITCH = 18.0
ROW_PITCH = 20.0
LEFT = 10.5
"""Of the first box."""
TOP = 6.5
"""Of the first box: its number stands above it."""
BOTTOM = 4.5
"""Paper left below the last row."""
MARK_DIAMETER = 7.0


def swatch_layout(boxes: int) -> Layout:
    """Give the sheet with so many boxes.

    Parameters
    ----------
    boxes : int
        `FEWEST` to `MOST`.

    Raises
    ------
    ValueError
        If the number is out of range.
    """
    if not FEWEST <= boxes <= MOST:
        raise ValueError(f"boxes must be {FEWEST} to {MOST} (got {boxes})")
    return _layout(boxes, f"swatches-{boxes}")


def whole_sheets() -> tuple[Layout, ...]:
    """Give one sheet for each number of rows, all its boxes there: any sheet is one of them."""
    most = -(-MOST // COLUMNS)
    return tuple(_layout(COLUMNS * rows, f"swatches in {rows} rows") for rows in range(1, most + 1))


def _layout(boxes: int, name: str) -> Layout:
    rows = -(-boxes // COLUMNS)
    height = TOP + ROW_PITCH * (rows - 1) + BOX + BOTTOM
    return Layout(
        name=name,
        width=WIDTH,
        height=height,
        marks=_marks(height),
        patches=tuple(_box(number) for number in range(boxes)),
    )


def _marks(height: float) -> tuple[Mark, ...]:
    places = (
        ("M1", "eye", 5.0, 5.0),
        ("M2", "eye", WIDTH - 5.0, 7.0),
        ("M3", "hoop", 4.5, height - 4.5),
        ("M4", "hoop", WIDTH - 4.5, height - 6.0),
    )
    return tuple(
        Mark(id=name, kind=kind, x=x, y=y, diameter=MARK_DIAMETER) for name, kind, x, y in places
    )


def _box(number: int) -> Patch:
    row, column = divmod(number, COLUMNS)
    return Patch(
        id=f"P{number + 1}",
        x=LEFT + PITCH * column,
        y=TOP + ROW_PITCH * row,
        width=BOX,
        height=BOX,
    )
