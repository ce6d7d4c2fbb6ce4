"""A table of text cells, and the numbers in it."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from colormatch.errors import ReferenceFileError
from colormatch.model import FloatArray

NUMBER = re.compile(r"[+-]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,4})?", re.ASCII)

MAX_ROWS, MAX_COLUMNS = 20_000, 2_000
"""More patches than any sheet has, and more columns than any instrument fills."""


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table as read, nothing interpreted yet.

    Attributes
    ----------
    where : str
        Names the file in messages.
    header : dict
        Header words in capitals, with their values; repeated words joined by "; ".
    columns : tuple of str
        Names in one spelling: capitals, underscores between words.
    rows : tuple of tuple of str
        One cell for each column, quotes removed.
    lines : tuple of int
        Line of the file, from 1, where each row begins.
    notes : tuple of str
        What was odd and how it was taken.
    """

    where: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    header: dict[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def numbers(
    table: Table, columns: Sequence[int], ids: Sequence[str]
) -> tuple[FloatArray, tuple[str, ...]]:
    """Read some columns of a table as numbers.

    Decimal commas are converted when the columns hold nothing else; a mixture of
    commas and points cannot be told from thousands and is refused.

    Parameters
    ----------
    table : Table
        Where from.
    columns : sequence of int
        Which columns, by index.
    ids : sequence of str
        Patch names, one for each row, for messages.

    Returns
    -------
    values : ndarray of shape (rows, columns)
        All finite.
    notes : tuple of str
        That decimal commas were converted, if so.

    Raises
    ------
    ReferenceFileError
        Naming the line, the patch and the column of the first cell that is empty,
        not a number, not finite, or ambiguous.
    """
    commas = _decimal_commas(table, columns, ids)
    values = np.empty((len(table.rows), len(columns)))
    for i, row in enumerate(table.rows):
        for k, column in enumerate(columns):
            text = row[column].strip()
            value = float(text.replace(",", ".")) if NUMBER.fullmatch(text) else math.nan
            if not math.isfinite(value):
                what = "is empty" if not text else f"is {_short(text)}, not a number"
                raise ReferenceFileError(
                    f"{place(table, i, ids)}: {table.columns[column]} {what}: "
                    "correct it or take the patch out"
                )
            values[i, k] = value
    return values, ("decimal commas were read as decimal points",) if commas else ()


def place(table: Table, row: int, ids: Sequence[str]) -> str:
    """Name a row in messages: file, line and patch."""
    return f"{table.where}: line {table.lines[row]}, patch {_short(ids[row], quote=False)}"


def _short(text: str, *, quote: bool = True) -> str:
    """Give a piece of a file in a form that fits into a message."""
    text = text if len(text) <= 40 else text[:37] + "..."
    return repr(text) if quote else "".join(c if c.isprintable() else "?" for c in text)


def _decimal_commas(table: Table, columns: Sequence[int], ids: Sequence[str]) -> bool:
    """Tell whether decimals are written with a comma."""
    comma = point = None
    for i, row in enumerate(table.rows):
        for column in columns:
            text = row[column]
            comma = i if "," in text and comma is None else comma
            point = i if "." in text and point is None else point
        if comma is not None and point is not None:
            raise ReferenceFileError(
                f"{place(table, comma, ids)}: numbers with decimal commas, and in line "
                f"{table.lines[point]} numbers with points: cannot tell which are decimals; "
                "write all with points"
            )
    return comma is not None
