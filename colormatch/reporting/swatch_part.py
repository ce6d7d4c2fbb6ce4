"""The painter's own paints in the report: which map is in use, why, and how far it is off."""

from __future__ import annotations

from pathlib import Path

from colormatch.painted import MapReport, Spread, SwatchReport


def swatch_lines(report: SwatchReport) -> list[str]:
    """Give the paints' part of the text report."""
    lines = [
        f"your own paints ({Path(report.scan).name}, {report.paints} used): colour by the "
        f"{report.model}",
        f"    why: {report.why}",
    ]
    lines += [f"    {map_line(one, report)}" for one in report.maps]
    notes = (*(f"left out: {one}" for one in report.left_out), *report.doubts, *report.remarks)
    return [*lines, *(f"    - {note}" for note in notes)]


def map_line(one: MapReport, report: SwatchReport) -> str:
    """Say how far one map is off on paint and on ink."""
    used = " (in use)" if one.model == report.model else ""
    return (
        f"{one.model}{used}: paints left out of the fit ΔE2000 {words(one.paint_left_out)}; "
        f"inks left out {words(one.ink_left_out)}"
    )


def words(spread: Spread) -> str:
    """Write a spread."""
    return f"mean {spread.mean:.2f}, P95 {spread.p95:.2f}, max {spread.largest:.2f}"


def swatch_rows(report: SwatchReport) -> list[tuple[str, str, str]]:
    """Give the paints' part of the page: what, value, what good looks like."""
    rows = [
        ("your own paints", f"{report.paints} used, of {Path(report.scan).name}", "12 and more"),
        ("colour is made by", f"the {report.model}: {report.why}", ""),
    ]
    rows += [
        (one.model, map_line(one, report).split(": ", 1)[1], "the less on paint the better")
        for one in report.maps
    ]
    rows += [("paints left out", one, "none") for one in report.left_out]
    return [*rows, *(("about the paints", one, "") for one in (*report.doubts, *report.remarks))]
