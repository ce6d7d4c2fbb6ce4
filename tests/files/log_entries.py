"""Hand-made rows of a log."""

from __future__ import annotations

from dataclasses import replace

from colormatch.logbook import LogEntry, PatchEntry


def entry(**changes: object) -> LogEntry:
    """Give a row in which every number can be told from the others."""
    whole = LogEntry(
        time="2026-03-01T10:20:30Z",
        job="00ff",
        version="0.1",
        command="check",
        scan="tile-1.tif",
        scanner="Bench scanner",
        scanner_from="user",
        strip="strip.txt of 2026-01-15",
        layout="strip-long",
        serial="7K3-XA",
        reference="strip.txt",
        reference_date="2026-01-15",
        reference_kind="measured",
        reference_key="1a2b3c4d",
        ppi=(300.4, 301.1),
        bits=16,
        gains=(1.0, 0.97, 0.912),
        white=(0.88, 0.87, 0.86),
        matrix=((1.0, 0.1, 0.0), (0.2, 1.1, 0.3), (0.0, 0.4, 1.2)),
        fitted=(0.5, 1.31, 2.22),
        left_out=(0.6, 1.43, 2.44),
        fall_off=(-1.7, 2.6),
        scattered=1.9,
        tolerance="matched",
        level="matched",
        advice="use it",
        findings=("low-depth", "fall-off"),
        error="",
        patches=(
            PatchEntry(
                id="A01",
                wanted=(50.0, 0.0, 0.0),
                scanned=(51.0, 0.5, -0.25),
                encoded=(0.5, 0.51, 0.52),
                linear=(0.21, 0.22, 0.23),
                light=(0.2, 0.21, 0.22),
            ),
            PatchEntry(id="B01", wanted=(60.0, 40.0, 20.0)),
        ),
    )
    return replace(whole, **changes)  # type: ignore[arg-type]


def unusable() -> LogEntry:
    """Give the row of a scan that could not be used."""
    return entry(
        ppi=None, gains=None, white=None, matrix=None, fitted=None, left_out=None, fall_off=None,
        scattered=None, level="", advice="scan again", findings=(), error="no strip", patches=(),
    )  # fmt: skip
