"""Plain tables with named columns: CSV, semicolons, tabs or blanks between the cells."""

from __future__ import annotations

import csv
from collections.abc import Sequence

from colormatch.errors import ReferenceFileError
from colormatch.files.tables import MAX_COLUMNS, MAX_ROWS, Table


def parse_delimited(lines: Sequence[str], where: str) -> Table:
    """Read a table whose first line names the columns.

    Parameters
    ----------
    lines : sequence of str
        The lines of the file; empty ones and those beginning with ``#`` are skipped.
    where : str
        Names the file in messages.

    Returns
    -------
    Table
        With an empty header.

    Raises
    ------
    ReferenceFileError
        Naming the line, if a row has more or fewer cells than the first.
    """
    kept = [
        (number, line)
        for number, line in enumerate(lines, start=1)
        if line.strip(" \t;,") and not line.lstrip().startswith("#")
    ]
    if not kept:
        raise ReferenceFileError(f"{where}: no values in the file")
    delimiter = _delimiter(kept[0][1])
    numbers = tuple(number for number, _ in kept)
    cells = [_cells(line, delimiter, f"{where}: line {number}") for number, line in kept]
    names, rows = cells[0], cells[1:]
    while names and not names[-1]:
        names.pop()
    _check_names(names, rows, where)
    for number, row in zip(numbers[1:], rows, strict=True):
        while len(row) > len(names) and not row[-1]:
            row.pop()
        if len(row) != len(names):
            raise ReferenceFileError(
                f"{where}: line {number}: {len(row)} values where the first line names "
                f"{len(names)} columns{_hint(row, names, delimiter)}"
            )
    return Table(
        where=where,
        columns=tuple(names),
        rows=tuple(tuple(row) for row in rows),
        lines=numbers[1:],
    )


def _delimiter(first: str) -> str:
    """Tell what separates cells, by the line of names."""
    return next((mark for mark in "\t;," if mark in first), " ")


def _cells(line: str, delimiter: str, where: str) -> list[str]:
    try:
        if delimiter == " ":
            return next(csv.reader([" ".join(line.split())], delimiter=" "))
        (row,) = csv.reader([line], delimiter=delimiter, skipinitialspace=True)
    except (csv.Error, ValueError) as error:
        raise ReferenceFileError(f"{where}: cannot be split into cells ({error})") from error
    return [cell.strip() for cell in row]


def _check_names(names: list[str], rows: Sequence[object], where: str) -> None:
    """Refuse what cannot be a table of patches."""
    if len(names) < 4:
        raise ReferenceFileError(
            f"{where}: neither a table nor in the form of ISO 28178: the first line must name "
            "columns, such as id, L, a, b"
        )
    if not rows:
        raise ReferenceFileError(f"{where}: no values below the names of the columns")
    if len(rows) > MAX_ROWS or len(names) > MAX_COLUMNS:
        raise ReferenceFileError(
            f"{where}: {len(rows)} rows of {len(names)} columns, more than any sheet has: "
            "not the reference of a target"
        )


def _hint(row: list[str], names: list[str], delimiter: str) -> str:
    if delimiter == "," and len(row) > len(names):
        return ": if decimals are written with a comma, separate the cells by semicolons or tabs"
    return ": one is missing or too many"
