"""Grids in a layout file: rows and columns of patches, stated once instead of one by one."""

from __future__ import annotations

import math
import re
from typing import Literal

import msgspec

from colormatch.errors import LayoutError

MOST_ROWS = 200
"""Of rows, and of columns: no sheet that a scanner reads has more."""

DECIMALS = 9
"""Decimals of a millimetre kept when places are reckoned from a pitch."""

PLACES = ("{row}", "{column}", "{number}")
"""What an id pattern may count by."""

NAME = re.compile(r"(?:[A-Z]+|[a-z]+|[0-9]+)\Z")
"""What can be counted on from: letters of one case, or figures."""


class GridEntry(msgspec.Struct, kw_only=True):
    """A grid of equal patches, as the file states it; see `colormatch.files.layouts`."""

    rows: int
    columns: int
    x: float
    y: float
    pitch: float | tuple[float, float]
    width: float | None = None
    height: float | None = None
    id: str = "{row}{column}"
    first_row: str = "A"
    first_column: str = "1"
    first_number: str = "1"
    role: Literal["neutral", "chromatic", "paper", "flare", "unstated"] = "unstated"


def patch_boxes(grid: GridEntry, where: str) -> list[dict[str, str | float]]:
    """Give the patches of a grid, row by row.

    Parameters
    ----------
    grid : GridEntry
        As read.
    where : str
        How messages call it: the file and the item.

    Returns
    -------
    list of dict
        ``id``, ``x``, ``y``, ``width``, ``height`` (mm) and ``role`` of each.

    Raises
    ------
    LayoutError
        If there cannot be such a grid.
    """
    _check_counts(grid, where)
    across, down = grid.pitch if isinstance(grid.pitch, tuple) else (grid.pitch, grid.pitch)
    for what, pitch in (("across", across), ("down", down)):
        if not (math.isfinite(pitch) and pitch > 0):
            raise LayoutError(f"{where}: its pitch {what} must be above 0 mm (got {pitch:g})")
    width = across if grid.width is None else grid.width
    height = down if grid.height is None else grid.height
    _check_fits(grid, (across, down), (width, height), where)
    return [
        {
            "id": patch_id(grid, row, column),
            "x": round(grid.x + column * across, DECIMALS),
            "y": round(grid.y + row * down, DECIMALS),
            "width": width,
            "height": height,
            "role": grid.role,
        }
        for row in range(grid.rows)
        for column in range(grid.columns)
    ]


def _check_counts(grid: GridEntry, where: str) -> None:
    for what, count in (("rows", grid.rows), ("columns", grid.columns)):
        if not 1 <= count <= MOST_ROWS:
            raise LayoutError(f"{where}: {what} must be 1 to {MOST_ROWS} (got {count})")
    unknown = [word for word in re.findall(r"\{[^}]*\}?", grid.id) if word not in PLACES]
    if unknown:
        raise LayoutError(
            f"{where}: its id pattern has {unknown[0]!r}: known are {', '.join(PLACES)}"
        )
    for key in ("first_row", "first_column", "first_number"):
        first = getattr(grid, key)
        if not NAME.match(first):
            raise LayoutError(
                f"{where}: {key} must be letters of one case or figures, such as A or 01 "
                f"(got {first!r})"
            )
    alone = "{number}" in grid.id
    for what, count in (("row", grid.rows), ("column", grid.columns)):
        if count > 1 and not alone and f"{{{what}}}" not in grid.id:
            raise LayoutError(
                f"{where}: its id pattern {grid.id!r} gives all patches of a {_other(what)} one "
                f"id: put {{{what}}} or {{number}} into it"
            )


def _other(what: str) -> str:
    return "column" if what == "row" else "row"


def _check_fits(
    grid: GridEntry, pitch: tuple[float, float], size: tuple[float, float], where: str
) -> None:
    """Refuse patches that are larger than the distance from one to the next."""
    for side, count, step, length in (
        ("width", grid.columns, pitch[0], size[0]),
        ("height", grid.rows, pitch[1], size[1]),
    ):
        if not (math.isfinite(length) and length > 0):
            raise LayoutError(f"{where}: {side} of a patch must be above 0 mm (got {length:g})")
        if count > 1 and length > step * (1 + 1e-9):
            raise LayoutError(
                f"{where}: a patch's {side} of {length:g} mm is more than the pitch of {step:g} "
                "mm, the distance from one patch to the next: they would overlap"
            )


def patch_id(grid: GridEntry, row: int, column: int) -> str:
    """Give the id of the patch in one row and column, both counted from 0."""
    name = grid.id.replace("{row}", counted(grid.first_row, row))
    name = name.replace("{column}", counted(grid.first_column, column))
    return name.replace("{number}", counted(grid.first_number, row * grid.columns + column))


def counted(first: str, steps: int) -> str:
    """Count on from a name: ``A`` to ``B``, ``Z`` to ``AA``, ``09`` to ``10``.

    Parameters
    ----------
    first : str
        Letters of one case, or figures; leading zeros keep the width.
    steps : int
        How far, 0 or more.
    """
    if first.isdigit():
        return str(int(first) + steps).zfill(len(first))
    base = ord("A") if first.isupper() else ord("a")
    number = 0
    for letter in first:
        number = 26 * number + ord(letter) - base + 1
    number += steps
    name = ""
    while number:
        number, rest = divmod(number - 1, 26)
        name = chr(base + rest) + name
    return name
