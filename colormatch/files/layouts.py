"""Layout files: where a target's marks and patches are.

A layout is a TOML file, all lengths in millimetres from the top left corner of the
sheet, x to the right and y down::

    name = "my-card"
    width = 180.0                # of the whole sheet
    height = 22.0

    [[mark]]                     # at least two, or none at all
    id = "M1"
    kind = "hoop"                # or "eye": see `colormatch.model.RING_EDGES`
    x = 1.0                      # top left corner of the mark's square box
    y = 1.0
    width = 8.0                  # width and height of a mark are equal:
    height = 8.0                 # the diameter of its outer ring

    [[patch]]                    # at least six, those of grids counted in
    id = "A1"
    x = 12.0                     # top left corner
    y = 2.0
    width = 6.0
    height = 6.0
    role = "neutral"             # or "chromatic" (the default), "paper", "flare"

    [[grid]]                     # any number: patches in rows and columns
    rows = 4
    columns = 12
    x = 5.0                      # top left corner of its first patch
    y = 5.0
    pitch = 8.0                  # from one patch to the next, or [across, down]
    width = 7.0                  # of a patch; left out: as wide as the pitch
    height = 7.0
    id = "{row}{column}"         # the default; or by {number}, along each row
    first_row = "A"              # the defaults: A1, A2, ... B1; "01" keeps zeros
    first_column = "1"
    first_number = "1"
    role = "neutral"             # of all its patches; left out: by the reference

    [[field]]                    # any number: grounds printed under the patches
    id = "F1"
    x = 0.0                      # top left corner
    y = 0.0
    width = 180.0
    height = 22.0
    kind = "grey"                # or "white", "black"

    [[symbol]]                   # one or none: what names the sheet (ISO/IEC 18004)
    id = "SL1"                   # the design: three of A to Z and 0 to 9
    x = 1.7                      # top left corner
    y = 8.45
    width = 5.1                  # 15 modules; two more all round stay bare paper
    height = 5.1

Coordinates are kept to a millionth of a millimetre and better; nothing may leave the
sheet, no patch or mark may overlap another, and no two patches may have ids that
`same_id` takes for one. A target without marks is found by the colours of its patches,
so it needs a reference that tells them apart.
"""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path
from typing import Any

import msgspec

from colormatch.errors import LayoutError
from colormatch.files.layout_checks import (
    ENTRIES,
    FieldEntry,
    MarkEntry,
    PatchEntry,
    Sheet,
    SymbolEntry,
    check_ids,
    check_numbers,
    check_places,
    check_symbol,
    title_of,
    unfolded,
)
from colormatch.files.references import parse_reference
from colormatch.files.toml_tables import check_keys, decoded, explained
from colormatch.model import Field, Layout, Mark, Patch, Reference, Symbol

MAX_BYTES = 4_000_000
"""A layout of a thousand patches takes a fortieth of this."""

DECIMALS = 9
"""Decimals of a millimetre kept when a mark's corner and its centre are converted."""


def read_layout(path: Path) -> Layout:
    """Read a layout file.

    Parameters
    ----------
    path : Path
        A TOML file as described at the top of this module.

    Returns
    -------
    Layout
        Marks by centre and diameter, patches by top left corner, in file order.

    Raises
    ------
    LayoutError
        If the file cannot be read, is not TOML, lacks something, has something
        unknown, or describes a sheet that cannot exist. The message names the
        file and the item.
    """
    try:
        with Path(path).open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        reason = error.strerror or str(error)
        raise LayoutError(f"{path}: cannot read the layout ({reason})") from error
    except ValueError as error:
        raise LayoutError(f"{path!r}: not a usable file name ({error})") from error
    return parse_layout(data, str(path))


def parse_layout(data: bytes, where: str) -> Layout:
    """Read a layout from the bytes of its file; ``where`` names it in messages.

    Raises
    ------
    LayoutError
        As `read_layout` does.
    """
    sheet = _typed(
        decoded(
            data,
            where,
            LayoutError,
            most=MAX_BYTES,
            what="a layout file",
            advice="give the strip.toml written together with the strip",
        ),
        where,
    )
    sheet = unfolded(sheet, where)
    check_numbers(sheet, where)
    check_ids("mark", sheet.mark, where)
    check_ids("patch", sheet.patch, where)
    check_ids("field", sheet.field, where)
    check_symbol(sheet, where)
    check_places(sheet, where)
    return Layout(
        name=sheet.name,
        width=sheet.width,
        height=sheet.height,
        marks=tuple(_mark(entry) for entry in sheet.mark),
        patches=tuple(_patch(entry) for entry in sheet.patch),
        fields=tuple(_field(entry) for entry in sheet.field),
        symbol=next((_symbol(entry) for entry in sheet.symbol), None),
    )


def layout_text(layout: Layout, *, remark: str = "") -> str:
    """Write a layout as the text of a layout file.

    Parameters
    ----------
    layout : Layout
        As `read_layout` gives it.
    remark : str
        A comment to begin with, one line.

    Returns
    -------
    str
        TOML; reading it gives an equal layout, as long as marks lie on whole
        millionths of a millimetre.
    """
    lines = [
        *([f"# {remark}"] if remark else []),
        "# Lengths in millimetres from the top left corner of the sheet.",
        *_entry(name=layout.name, width=layout.width, height=layout.height),
    ]
    for mark in layout.marks:
        corner = {
            "x": round(mark.x - mark.diameter / 2, DECIMALS),
            "y": round(mark.y - mark.diameter / 2, DECIMALS),
        }
        size = {"width": mark.diameter, "height": mark.diameter}
        lines += ["", "[[mark]]", *_entry(id=mark.id, kind=mark.kind, **corner, **size)]
    if layout.symbol is not None:
        box = {"x": layout.symbol.x, "y": layout.symbol.y}
        size = {"width": layout.symbol.side, "height": layout.symbol.side}
        lines += ["", "[[symbol]]", *_entry(id=layout.symbol.design, **box, **size)]
    for field in layout.fields:
        corner = {"x": field.x, "y": field.y}
        size = {"width": field.width, "height": field.height}
        lines += ["", "[[field]]", *_entry(id=field.id, **corner, **size, kind=field.kind)]
    for patch in layout.patches:
        corner = {"x": patch.x, "y": patch.y}
        size = {"width": patch.width, "height": patch.height}
        lines += ["", "[[patch]]", *_entry(id=patch.id, **corner, **size, role=patch.role)]
    return "\n".join(lines) + "\n"


def shipped_layouts() -> dict[str, Layout]:
    """Give the strips that come with the program, by name."""
    return {name: layout for name, layout in _all_shipped().items() if layout.marks}


def shipped_charts() -> dict[str, Layout]:
    """Give the layouts of others' charts, without marks, that come along, by name."""
    return {name: layout for name, layout in _all_shipped().items() if not layout.marks}


def _all_shipped() -> dict[str, Layout]:
    found = (
        parse_layout(entry.read_bytes(), entry.name)
        for entry in sorted(files("colormatch.targets").iterdir(), key=lambda entry: entry.name)
        if entry.name.endswith(".toml")
    )
    return {layout.name: layout for layout in found}


def shipped_reference(name: str) -> Reference:
    """Give the nominal values of a target that comes with the program.

    Parameters
    ----------
    name : str
        A key of `shipped_layouts`.

    Raises
    ------
    LayoutError
        If there is no such target.
    """
    entry = files("colormatch.targets").joinpath(f"{name}.txt")
    if re.search(r"[^\w-]", name) or not entry.is_file():
        known = ", ".join(shipped_layouts()) or "none"
        raise LayoutError(f"no shipped target is called {name!r}: there are {known}")
    return parse_reference(entry.read_bytes(), entry.name)


def _entry(**fields: str | float) -> list[str]:
    """Write one line for each field."""
    return [f"{key} = {_toml(value)}" for key, value in fields.items()]


def _toml(value: str | float) -> str:
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(float(value))


def _mark(entry: MarkEntry) -> Mark:
    return Mark(
        id=entry.id,
        kind=entry.kind,
        x=round(entry.x + entry.width / 2, DECIMALS),
        y=round(entry.y + entry.height / 2, DECIMALS),
        diameter=entry.width,
    )


def _patch(entry: PatchEntry) -> Patch:
    return Patch(
        id=entry.id,
        x=entry.x,
        y=entry.y,
        width=entry.width,
        height=entry.height,
        role=entry.role,
    )


def _symbol(entry: SymbolEntry) -> Symbol:
    return Symbol(design=entry.id, x=entry.x, y=entry.y, side=entry.width)


def _field(entry: FieldEntry) -> Field:
    return Field(
        id=entry.id,
        x=entry.x,
        y=entry.y,
        width=entry.width,
        height=entry.height,
        kind=entry.kind,
    )


def _typed(table: dict[str, Any], where: str) -> Sheet:
    """Give the table its types, or say which entry has the wrong one."""
    check_keys(table, Sheet, where, LayoutError)
    if not table.keys() & {"patch", "grid"}:
        raise LayoutError(
            f"{where}: has no [[patch]] and no [[grid]] entries: not a layout of a target"
        )
    for kind, entry_type in ENTRIES.items():
        entries = table.get(kind, [])
        if not isinstance(entries, list):
            raise LayoutError(f"{where}: {kind} is no list of entries: begin each with [[{kind}]]")
        for number, entry in enumerate(entries, start=1):
            if isinstance(entry, dict):
                name = title_of(kind, number, entry)
                check_keys(entry, entry_type, f"{where}: {name}", LayoutError)
    try:
        return msgspec.convert(table, Sheet)
    except msgspec.ValidationError as error:

        def title(kind: str, index: int) -> str:
            return title_of(kind, index + 1, table[kind][index])

        raise LayoutError(f"{where}: {explained(str(error), ENTRIES, title)}") from error
