"""The table of a painter's own paints: an empty one to fill in, and reading it back."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from colormatch.errors import ReferenceFileError
from colormatch.files.cgats import is_cgats
from colormatch.files.ids import same_id
from colormatch.files.references import parse_reference
from colormatch.files.text import decode, read_bytes
from colormatch.model import Layout, Reference

COLUMNS = ("id", "paint", "LAB_L", "LAB_A", "LAB_B")
WORDS = ("ID", "SAMPLE_ID", "PAINT", "NOTE", "NOTES", "SAMPLE_NAME", "NAME")
"""Columns that hold words and no values."""


def empty_table(layout: Layout) -> str:
    """Give the table to fill in, one line for each box.

    Parameters
    ----------
    layout : Layout
        The sheet.

    Returns
    -------
    str
        CSV; lines left empty stand for boxes that were not painted.
    """
    lines = [
        "# Measured colours of the painted boxes: CIELAB for D50 and the 2 degree observer.",
        "# Decimals with a point. Leave a line empty where a box was not painted.",
        "# Spectra or XYZ may be given instead: name their columns as ISO 28178 does.",
        ",".join(COLUMNS),
        *(f"{patch.id}{',' * (len(COLUMNS) - 1)}" for patch in layout.patches),
    ]
    return "\n".join(lines) + "\n"


def read_swatch_values(path: Path) -> Reference:
    """Read measured paints; boxes without values are left out and noted.

    Parameters
    ----------
    path : Path
        The table filled in, or any file that `read_reference` takes.

    Returns
    -------
    Reference
        Ids as ``P1``, ``P2`` …, also where the file has only the numbers.

    Raises
    ------
    ReferenceFileError
        If no box has values, or the file cannot be read; the message says where.
    """
    data, where = read_bytes(path), str(path)
    lines = list(decode(data, where).lines)
    empty: list[str] = []
    if not is_cgats(lines):
        lines, empty = without_empty(lines, where)
        data = "\n".join(lines).encode()
    reference = parse_reference(data, where)
    if reference.kind == "nominal":
        raise ReferenceFileError(f"{where}: holds nominal values, but paints must be measured")
    ids = tuple(_numbered(id_) for id_ in reference.ids)
    notes = reference.notes
    if empty:
        notes += (f"{where}: no values, so left out: {', '.join(empty)}",)
    return replace(reference, ids=ids, notes=notes, path=Path(path))


def _numbered(name: str) -> str:
    """Give a box its id: a bare number is that of the box."""
    plain = same_id(name)
    return f"P{plain}" if plain.isdecimal() else plain


def without_empty(lines: Sequence[str], where: str) -> tuple[list[str], list[str]]:
    """Turn rows that name a box and no value into comments, and give their ids."""
    kept, empty, values = [], [], None
    for line in lines:
        plain = line.strip(" \t;,") and not line.lstrip().startswith("#")
        cells = _cells(line) if plain else []
        if plain and values is None:
            values = [k for k, cell in enumerate(cells) if _word(cell) not in WORDS]
        elif plain and values and not any(cells[k].strip() for k in values if k < len(cells)):
            empty.append(cells[0].strip())
            line = f"# {line}"
        kept.append(line)
    filled = sum(1 for line in kept if line.strip(" \t;,") and not line.lstrip().startswith("#"))
    if empty and filled <= 1:
        raise ReferenceFileError(
            f"{where}: no box has values yet: have the painted boxes measured and write the "
            "values into the table"
        )
    return kept, empty


def _cells(line: str) -> list[str]:
    mark = next((mark for mark in "\t;," if mark in line), ",")
    try:
        return next(csv.reader([line], delimiter=mark))
    except (csv.Error, StopIteration):
        return [line]


def _word(cell: str) -> str:
    return re.sub(r"[^A-Z0-9]+", "_", cell.strip().upper()).strip("_")


def known_boxes(reference: Reference, layout: Layout) -> tuple[Layout, Reference]:
    """Keep of a sheet the boxes that have values, and of the values those of the sheet."""
    rows = {_numbered(id_): row for row, id_ in enumerate(reference.ids)}
    patches = tuple(patch for patch in layout.patches if _numbered(patch.id) in rows)
    index = np.array([rows[_numbered(patch.id)] for patch in patches], dtype=int)
    sigma = None if reference.sigma is None else reference.sigma[index]
    ids = tuple(patch.id for patch in patches)
    part = replace(reference, ids=ids, xyz=reference.xyz[index], sigma=sigma)
    return replace(layout, patches=patches), part
