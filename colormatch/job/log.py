"""What a job found, added to a studio's log."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from colormatch import __version__
from colormatch.errors import OutputError
from colormatch.files.log import append_log, refuse_other
from colormatch.files.log_rows import TIME
from colormatch.logbook import LogEntry, PatchEntry, Triple
from colormatch.standards import D50_XYZ
from colormatch.verdict import ColourReport, JobReport, PatchReport, Spread, TileReport


@dataclass(frozen=True, kw_only=True)
class LogOptions:
    """Where to log to, and what the user calls the scanner and the strip.

    Empty names are taken from the files.
    """

    path: Path
    scanner: str = ""
    strip: str = ""


def refuse_log(options: LogOptions | None, scans: tuple[Path, ...]) -> None:
    """Refuse before any work is done a log that is none, or is one of the scans."""
    if options is not None:
        if any(options.path.exists() and s.exists() and options.path.samefile(s) for s in scans):
            raise OutputError(f"{options.path} is one of the scans: give the log another name")
        refuse_other(options.path)


def log_report(report: JobReport, options: LogOptions) -> None:
    """Add one row per tile.

    Raises
    ------
    LogFileError
        If the file is no log of ours; it is left untouched.
    OutputError
        If the rows cannot be written.
    """
    append_log(options.path, entries_of(report, options, datetime.now(UTC)))


def entries_of(report: JobReport, options: LogOptions, when: datetime) -> list[LogEntry]:
    """Give the rows of a report."""
    job = secrets.token_hex(8)
    time = when.astimezone(UTC).strftime(TIME)
    return [_entry(report, tile, options, time, job) for tile in report.tiles]


def _entry(
    report: JobReport, tile: TileReport, options: LogOptions, time: str, job: str
) -> LogEntry:
    colour = tile.colour
    scanner = " ".join(options.scanner.split()) or tile.device
    named = ", ".join(Path(part).name for part in report.reference.split(", "))
    serial = " ".join(dict.fromkeys(strip.serial for strip in tile.strips if strip.serial))
    return LogEntry(
        time=time,
        job=job,
        version=__version__,
        command=report.command,
        scan=Path(tile.scan).name,
        scanner=scanner,
        scanner_from="user" if options.scanner.strip() else "file" if tile.device else "",
        strip=" ".join(options.strip.split()) or strip_name(report, tile, serial, named),
        layout=", ".join(strip.layout for strip in tile.strips),
        serial=serial,
        reference=named,
        reference_date=report.reference_facts.get("date", ""),
        reference_kind=report.reference_kind,
        reference_key=reference_key(tile.patches),
        ppi=tile.strips[0].ppi if tile.strips else None,
        bits=tile.bits,
        gains=None if colour is None else colour.gains,
        white=None if colour is None else white_of(colour),
        matrix=None if colour is None else _rows(colour),
        fitted=None if colour is None else _three(colour.fitted),
        left_out=None if colour is None else _three(colour.left_out),
        fall_off=None if colour is None else colour.fall_off,
        scattered=None if colour is None else colour.scattered,
        tolerance=report.tolerance,
        level=(tile.outcome.level or "") if tile.outcome else "",
        advice=tile.advice.value,
        findings=tuple(finding.kind.value for finding in tile.findings),
        error=tile.error or "",
        patches=tuple(_patches(tile)),
    )


def strip_name(report: JobReport, tile: TileReport, serial: str, reference: str) -> str:
    """Name a strip that the user gave no name: by its serial, else by its values."""
    if serial:
        return f"{tile.strips[0].layout} {serial}"
    if report.reference_kind == "nominal":
        return f"{reference}, not measured" if "nominal" not in reference else reference
    date = report.reference_facts.get("date", "")
    return f"{reference} of {date}" if date else reference


def reference_key(patches: tuple[PatchReport, ...]) -> str:
    """Give a short sum of the reference values: another strip's is another."""
    text = ";".join(f"{p.id} {p.wanted[0]:.2f} {p.wanted[1]:.2f} {p.wanted[2]:.2f}"
                    for p in patches)  # fmt: skip
    return hashlib.sha256(text.encode()).hexdigest()[:8] if patches else ""


def white_of(colour: ColourReport) -> Triple:
    """Give the scanner's linear reading of the perfect diffuser in this scan."""
    white = np.linalg.solve(np.array(colour.matrix), np.array(D50_XYZ)) * np.array(colour.gains)
    red, green, blue = (float(value) for value in white)
    return red, green, blue


def _rows(colour: ColourReport) -> tuple[Triple, ...]:
    return tuple((float(a), float(b), float(c)) for a, b, c in colour.matrix)


def _three(spread: Spread) -> Triple:
    return spread.mean, spread.p95, spread.largest


def _patches(tile: TileReport) -> Iterator[PatchEntry]:
    """Name the patches of a second strip apart."""
    number = 0
    for k, strip in enumerate(tile.strips, start=1):
        for patch in tile.patches[number : number + strip.patches]:
            reading = patch.reading
            yield PatchEntry(
                id=patch.id if k == 1 else f"{k}:{patch.id}",
                wanted=patch.wanted,
                scanned=patch.scanned,
                encoded=None if reading is None else reading.encoded,
                linear=None if reading is None else reading.linear,
                light=None if reading is None else reading.light,
            )
        number += strip.patches
