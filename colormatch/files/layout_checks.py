"""What a layout file may contain, and what no sheet can be."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any, Literal

import msgspec
import numpy as np

from colormatch.errors import LayoutError
from colormatch.files.grid_entries import GridEntry, patch_boxes
from colormatch.files.ids import same_id
from colormatch.model import RING_EDGES, FloatArray
from colormatch.symbols.sheets import is_design

MIN_MARKS = 2
"""One alone does not tell how a sheet is turned; without any the colours do."""

MIN_PATCHES = 6
"""Fewer cannot determine a colour matrix with anything left to judge it by."""

MOST_PATCHES = 3_000
"""More than any sheet holds: a slip of the pen in rows or columns."""

TOUCH = 1e-6
"""Millimetres by which neighbours may overlap: rounding, not design."""


class Box(msgspec.Struct, kw_only=True):
    """What marks and patches have in common, as the file states it."""

    id: str
    x: float
    y: float
    width: float
    height: float


class MarkEntry(Box, kw_only=True):
    """A mark, in its square box."""

    kind: str


class PatchEntry(Box, kw_only=True):
    """A patch."""

    role: Literal["neutral", "chromatic", "paper", "flare", "unstated"] = "chromatic"


class GridPatch(PatchEntry, kw_only=True):
    """A patch of a grid, and how messages call it."""

    title: str


class FieldEntry(Box, kw_only=True):
    """A ground printed under patches."""

    kind: Literal["grey", "white", "black"]


class SymbolEntry(Box, kw_only=True):
    """The symbol that names the sheet; its id is the design."""


ENTRIES: dict[str, type[msgspec.Struct]] = {
    "mark": MarkEntry,
    "patch": PatchEntry,
    "grid": GridEntry,
    "field": FieldEntry,
    "symbol": SymbolEntry,
}
"""The lists of the file, by the name of their tables."""


class Sheet(msgspec.Struct, kw_only=True):
    """The whole file."""

    name: str
    width: float
    height: float
    mark: list[MarkEntry] = []
    patch: list[PatchEntry] = []
    grid: list[GridEntry] = []
    field: list[FieldEntry] = []
    symbol: list[SymbolEntry] = []


def unfolded(sheet: Sheet, where: str) -> Sheet:
    """Put the patches of grids, row by row, after those stated one by one.

    Raises
    ------
    LayoutError
        If a grid cannot be.
    """
    patches = list(sheet.patch)
    for number, grid in enumerate(sheet.grid, start=1):
        if len(patches) > MOST_PATCHES:
            raise LayoutError(f"{where}: more than {MOST_PATCHES} patches: no sheet holds as many")
        for box in patch_boxes(grid, f"{where}: grid {number}"):
            title = f"grid {number}, patch {box['id']}"
            patches.append(msgspec.convert({**box, "title": title}, GridPatch))
    return msgspec.structs.replace(sheet, patch=patches, grid=[])


def title_of(kind: str, number: int, entry: Any) -> str:
    """Name an entry by its place in the file and, if it has one, its id."""
    if isinstance(entry, GridPatch):
        return entry.title
    if kind == "grid":
        return f"grid {number}"
    id_ = entry.get("id") if isinstance(entry, dict) else getattr(entry, "id", None)
    return f"{kind} {number} ({id_})" if isinstance(id_, str) and id_ else f"{kind} {number}"


def _boxes(sheet: Sheet) -> Iterable[tuple[str, Box]]:
    """Go through all marks, patches and the symbol with the words that name them."""
    for number, mark in enumerate(sheet.mark, start=1):
        yield title_of("mark", number, mark), mark
    for number, symbol in enumerate(sheet.symbol, start=1):
        yield title_of("symbol", number, symbol), symbol
    for number, patch in enumerate(sheet.patch, start=1):
        yield title_of("patch", number, patch), patch


def _grounds(sheet: Sheet) -> Iterable[tuple[str, Box]]:
    """Go through all fields, which lie under the rest, with the words that name them."""
    for number, field in enumerate(sheet.field, start=1):
        yield title_of("field", number, field), field


def check_numbers(sheet: Sheet, where: str) -> None:
    """Refuse lengths that no sheet can have, and too few marks or patches."""
    if not sheet.name.strip():
        raise LayoutError(f"{where}: name is empty: give the layout a name")
    for key in ("width", "height"):
        _check_length(getattr(sheet, key), f"{where}: {key} of the sheet", above=0)
    for title, box in [*_boxes(sheet), *_grounds(sheet)]:
        for key in ("x", "y"):
            _check_length(getattr(box, key), f"{where}: {title}, {key}", above=-TOUCH)
        for key in ("width", "height"):
            _check_length(getattr(box, key), f"{where}: {title}, {key}", above=0)
        if isinstance(box, MarkEntry) and box.kind not in RING_EDGES:
            known = " or ".join(map(repr, RING_EDGES))
            raise LayoutError(f"{where}: {title}, kind: must be {known} (got {box.kind!r})")
        if isinstance(box, MarkEntry) and abs(box.width - box.height) > TOUCH:
            raise LayoutError(
                f"{where}: {title}: a mark is round, so its width and height must be equal "
                f"(got {box.width:g} and {box.height:g} mm)"
            )
    for kind, entries, least in (
        ("marks", sheet.mark, MIN_MARKS),
        ("patches", sheet.patch, MIN_PATCHES),
    ):
        if len(entries) < least and (entries or kind == "patches"):
            raise LayoutError(f"{where}: need at least {least} {kind} (got {len(entries)})")


def check_symbol(sheet: Sheet, where: str) -> None:
    """Refuse a symbol that could not be drawn or read, and more than one."""
    if len(sheet.symbol) > 1:
        raise LayoutError(f"{where}: has {len(sheet.symbol)} symbols: a sheet has one, or none")
    for number, symbol in enumerate(sheet.symbol, start=1):
        title = title_of("symbol", number, symbol)
        if not is_design(symbol.id):
            raise LayoutError(
                f"{where}: {title}: its id names the design: three of A to Z and 0 to 9 "
                f"(got {symbol.id!r})"
            )
        if abs(symbol.width - symbol.height) > TOUCH:
            raise LayoutError(
                f"{where}: {title}: a symbol is square, so its width and height must be equal "
                f"(got {symbol.width:g} and {symbol.height:g} mm)"
            )


def _check_length(value: float, what: str, *, above: float) -> None:
    if not math.isfinite(value):
        raise LayoutError(f"{what} must be a finite number of millimetres (got {value})")
    if value <= above:
        limit = "above 0" if above == 0 else "0 or more"
        raise LayoutError(f"{what} must be {limit} mm (got {value:g})")


def check_ids(kind: str, entries: Iterable[Box], where: str) -> None:
    """Refuse empty ids, and two that a reference file could not tell apart."""
    seen: dict[str, str] = {}
    for number, entry in enumerate(entries, start=1):
        key = same_id(entry.id)
        if not key:
            raise LayoutError(f"{where}: {kind} {number}: id is empty: give it a name")
        if key in seen:
            raise LayoutError(
                f"{where}: {title_of(kind, number, entry)}: its id means the same as that of "
                f"{seen[key]}: give each {kind} its own"
            )
        seen[key] = title_of(kind, number, entry)


def check_places(sheet: Sheet, where: str) -> None:
    """Refuse what leaves the sheet or lies on something else."""
    for title, box in [*_boxes(sheet), *_grounds(sheet)]:
        right, bottom = box.x + box.width, box.y + box.height
        if right > sheet.width + TOUCH or bottom > sheet.height + TOUCH:
            raise LayoutError(
                f"{where}: {title}: reaches to {right:g}, {bottom:g} mm, beyond the "
                f"sheet of {sheet.width:g} x {sheet.height:g} mm"
            )
    titles, boxes = zip(*_boxes(sheet), strict=True)
    low = np.array([(box.x, box.y) for box in boxes])
    high = low + [(box.width, box.height) for box in boxes]
    _check_overlaps(titles, low, high, where)


def _check_overlaps(titles: Sequence[str], low: FloatArray, high: FloatArray, where: str) -> None:
    """Refuse two boxes that share more than a border."""
    order = np.argsort(low[:, 0], kind="stable")
    low, high = low[order], high[order]
    # Sorted by left edge: a box can only meet those that begin before it ends.
    ends = np.searchsorted(low[:, 0], high[:, 0] - TOUCH)
    for i, end in enumerate(ends):
        later = slice(i + 1, end)
        meets = (low[later, 1] < high[i, 1] - TOUCH) & (low[i, 1] < high[later, 1] - TOUCH)
        if meets.any():
            first, second = sorted((order[i], order[i + 1 + meets.argmax()]))
            raise LayoutError(f"{where}: {titles[first]} and {titles[second]} overlap")
