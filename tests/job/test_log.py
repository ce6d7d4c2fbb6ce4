"""Rows of a log from hand-made reports: names, times, strips in one scan."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from colormatch.job.log import LogOptions, entries_of
from colormatch.logbook import LogEntry
from colormatch.verdict import JobReport
from tests.reporting.records import report, tile

PLAIN = LogOptions(path=Path("studio.log"))
WHEN = datetime(2026, 3, 1, 23, 30, 5, tzinfo=timezone(timedelta(hours=-2)))


def row(one: JobReport, options: LogOptions = PLAIN) -> LogEntry:
    (found,) = entries_of(one, options, WHEN)
    return found


def test_time_is_utc_and_the_scan_has_no_folder() -> None:
    found = row(report(tile("/private/place/tile-1.tif")))
    assert found.time == "2026-03-02T01:30:05Z"
    assert found.scan == "tile-1.tif"


def test_names_are_the_users_then_the_files() -> None:
    one = report(replace(tile(), device="Lamplight Flat 12"))
    assert (row(one).scanner, row(one).scanner_from) == ("Lamplight Flat 12", "file")
    named = row(one, LogOptions(path=Path("x"), scanner=" Bench \n one ", strip="first print"))
    assert (named.scanner, named.scanner_from) == ("Bench one", "user")
    assert named.strip == "first print"
    assert (row(report()).scanner, row(report()).scanner_from) == ("", "")


@pytest.mark.parametrize(
    ("kind", "facts", "name"),
    [
        ("measured", {"date": "2026-01-15"}, "strip.txt of 2026-01-15"),
        ("measured", {}, "strip.txt"),
        ("nominal", {}, "strip.txt, not measured"),
    ],
)
def test_a_strip_without_a_serial_is_called_by_its_values(
    kind: str, facts: dict[str, str], name: str
) -> None:
    one = replace(report(kind=kind), reference="/refs/strip.txt", reference_facts=facts)
    assert row(one).strip == name
    assert row(one).reference == "strip.txt"


def test_a_serial_is_the_better_name() -> None:
    plain = tile()
    known = replace(plain, strips=(replace(plain.strips[0], serial="7K3-XA"),))
    assert (row(report(known)).strip, row(report(known)).serial) == ("strip-long 7K3-XA", "7K3-XA")


def test_patches_of_a_second_strip_are_told_apart_and_other_values_have_another_key() -> None:
    plain = tile()
    first = replace(plain.strips[0], patches=2)
    two = replace(plain, strips=(first, replace(first, patches=1)))
    assert [p.id for p in row(report(two)).patches] == ["A01", "B01", "2:C01"]
    moved = replace(plain.patches[0], wanted=(50.2, 0.0, 0.0))
    other = replace(plain, patches=(moved, *plain.patches[1:]))
    assert row(report(other)).reference_key != row(report(plain)).reference_key


def test_a_scan_that_failed_has_a_row_without_figures() -> None:
    failed = replace(tile(error="no strip"), colour=None, strips=(), patches=(), outcome=None)
    found = row(report(failed))
    assert (found.error, found.matrix, found.ppi, found.patches) == ("no strip", None, None, ())
