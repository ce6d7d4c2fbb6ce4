"""How a row of the log is kept in the table; DEVELOPERS.md describes it for others."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from colormatch.errors import LogFileError
from colormatch.logbook import LogEntry, PatchEntry

TEXTS = (
    "time", "job", "version", "command", "scan", "scanner", "scanner_from", "strip", "layout",
    "serial", "reference", "reference_date", "reference_kind", "reference_key", "tolerance",
    "level", "advice", "error",
)  # fmt: skip
NUMBERS = {
    "ppi": ("ppi_x", "ppi_y"),
    "gains": ("gain_red", "gain_green", "gain_blue"),
    "white": ("white_red", "white_green", "white_blue"),
    "fitted": ("fitted_mean", "fitted_p95", "fitted_max"),
    "left_out": ("left_out_mean", "left_out_p95", "left_out_max"),
    "fall_off": ("fall_off_left", "fall_off_right"),
}
"""Fields that take several columns."""
LISTS = ("matrix", "findings", "patches")
"""Columns that hold JSON."""
COLUMNS: tuple[tuple[str, str], ...] = (
    *((name, "TEXT NOT NULL") for name in TEXTS),
    ("bits", "INTEGER NOT NULL"),
    ("scattered", "REAL"),
    *((column, "REAL") for columns in NUMBERS.values() for column in columns),
    *((name, "TEXT NOT NULL") for name in LISTS),
)
"""Name and type of every column after ``id``, in the table's order."""
TIME = "%Y-%m-%dT%H:%M:%SZ"
"""UTC, ISO 8601."""
DIGITS = 6
"""Kept of readings and Lab; a 16-bit code is 1.5e-5 of full scale."""


def values_of(entry: LogEntry) -> list[object]:
    """Give a row's values in the order of `COLUMNS`."""
    row: dict[str, object] = {name: getattr(entry, name) for name in TEXTS}
    row |= {"bits": entry.bits, "scattered": entry.scattered}
    for field, columns in NUMBERS.items():
        values = getattr(entry, field) or (None,) * len(columns)
        row |= dict(zip(columns, values, strict=True))
    row["matrix"] = _json(entry.matrix)
    row["findings"] = _json(entry.findings)
    row["patches"] = _json([_patch_list(patch) for patch in entry.patches])
    return [row[name] for name, _ in COLUMNS]


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _patch_list(patch: PatchEntry) -> list[object]:
    parts = (patch.wanted, patch.scanned, patch.encoded, patch.linear, patch.light)
    return [patch.id, *(None if p is None else [round(v, DIGITS) for v in p] for p in parts)]


def entry_of(row: Mapping[str, Any], where: str) -> LogEntry:
    """Make a record of a row of the table.

    Raises
    ------
    LogFileError
        If the row does not hold what a log of ours holds.
    """
    try:
        given: dict[str, Any] = {name: str(row[name]) for name in TEXTS}
        datetime.strptime(given["time"], TIME)
        for field, columns in NUMBERS.items():
            values = [row[column] for column in columns]
            given[field] = None if None in values else tuple(float(v) for v in values)
        scattered = row["scattered"]
        matrix = json.loads(row["matrix"])
        return LogEntry(
            **given,
            bits=int(row["bits"]),
            scattered=None if scattered is None else float(scattered),
            matrix=None if matrix is None else tuple(_triple(one) for one in matrix),
            findings=tuple(str(kind) for kind in json.loads(row["findings"])),
            patches=tuple(_patch(one) for one in json.loads(row["patches"])),
        )
    except (KeyError, IndexError, TypeError, ValueError) as error:
        raise LogFileError(
            f"{where}: row {row.get('id', '?')} is damaged ({type(error).__name__}: {error}); "
            "take the log from a copy"
        ) from error


def _patch(values: list[Any]) -> PatchEntry:
    name, wanted, scanned, encoded, linear, light = values
    return PatchEntry(
        id=str(name),
        wanted=_triple(wanted),
        scanned=_maybe(scanned),
        encoded=_maybe(encoded),
        linear=_maybe(linear),
        light=_maybe(light),
    )


def _triple(values: Any) -> tuple[float, float, float]:
    a, b, c = (float(value) for value in values)
    if not all(map(math.isfinite, (a, b, c))):
        raise ValueError("a value is no number")
    return a, b, c


def _maybe(values: Any) -> tuple[float, float, float] | None:
    return None if values is None else _triple(values)
