"""The symbol that names a sheet, as boxes in millimetres."""

from __future__ import annotations

from itertools import groupby

from colormatch.model import Symbol
from colormatch.symbols.micro import QUIET, SIZE, modules
from colormatch.symbols.sheets import sheet_text

Box = tuple[float, float, float, float]
"""x, y, width, height, millimetres from the sheet's top left corner."""


def quiet_box(symbol: Symbol) -> Box:
    """Give the bare paper on which the symbol stands."""
    margin = QUIET * symbol.side / SIZE
    side = symbol.side + 2 * margin
    return symbol.x - margin, symbol.y - margin, side, side


def dark_boxes(symbol: Symbol, serial: str) -> list[Box]:
    """Give the dark modules, neighbours in a row as one box; boxes only touch.

    Raises
    ------
    ValueError
        If the serial is not of its form.
    """
    module = symbol.side / SIZE
    boxes = []
    for row, line in enumerate(modules(sheet_text(symbol.design, serial))):
        column = 0
        for dark, run in groupby(bool(one) for one in line):
            count = len(list(run))
            if dark:
                corner = symbol.x + column * module, symbol.y + row * module
                boxes.append((*corner, count * module, module))
            column += count
    return boxes
