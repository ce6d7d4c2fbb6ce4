"""Figures as rows of tables: what, how much in which unit, and what good looks like."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from colormatch.merged import MergedReport
from colormatch.reporting.swatch_part import swatch_rows
from colormatch.standards.tolerances import Check, Outcome
from colormatch.verdict import ColourReport, Finding, JobReport, Spread, StripReport, TileReport


@dataclass(frozen=True, kw_only=True)
class Row:
    """One figure."""

    what: str
    value: str
    good: str


def measured_words(finding: Finding) -> list[str]:
    """Say what a finding measured, and its limit, each with the unit."""
    if finding.measure is None:
        return []
    unit = f" {finding.unit}" if finding.unit else ""
    words = [f"measured {short(finding.measure)}{unit}"]
    if finding.limit is not None:
        words.append(f"limit {short(finding.limit)}{unit}")
    return words


def short(value: float) -> str:
    """Give a number to three figures, never as a power of ten."""
    digits = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def scan_rows(tile: TileReport) -> list[Row]:
    """Say what the file is and where the strip lies in it."""
    if not tile.width:
        return []
    stated = "not stated" if tile.ppi is None else f"{tile.ppi[0]:.0f} × {tile.ppi[1]:.0f} ppi"
    rows = [
        Row(
            what="file",
            value=f"{tile.format.upper()}, {tile.width} × {tile.height} pixels, "
            f"{tile.bits} bits per channel",
            good="TIFF or PNG, 16 bits",
        ),
        Row(what="resolution in the file", value=stated, good="within 1 % of the strip's"),
    ]
    return rows + [row for strip in tile.strips for row in strip_rows(strip)]


def strip_rows(strip: StripReport) -> list[Row]:
    """Say how well a strip was found."""
    mean_ppi = sum(strip.ppi) / 2
    off = strip.residual_px / mean_ppi * 25.4
    marks = f"{strip.marks_seen} of {strip.marks} marks, " if strip.marks else "no marks, "
    what = "marks" if strip.marks else "patches' borders"
    return [
        Row(
            what=f"{strip.layout}, by its own millimetres",
            value=f"{strip.ppi[0]:.1f} × {strip.ppi[1]:.1f} ppi; its middle at {strip.x:.0f} × "
            f"{strip.y:.0f} mm, turned {strip.turn:.1f}°",
            good="as in the file",
        ),
        Row(what="sheet", value=strip.serial or strip.symbol, good="the sheet of the values"),
        Row(
            what="marks and patches",
            value=f"{marks}{strip.patches_used} of {strip.patches} patches; {what} {off:.2f} mm "
            "RMS from where a flat strip has them",
            good=f"all; {what} below 0.15 mm",
        ),
    ]


def spread_words(spread: Spread) -> str:
    """Give a spread's three figures."""
    return f"mean {spread.mean:.2f}, P95 {spread.p95:.2f}, largest {spread.largest:.2f} ΔE2000"


def colour_rows(colour: ColourReport) -> list[Row]:
    """Give one tile's colour figures."""
    gains = ", ".join(
        f"{name} {(gain - 1) * 100:+.1f} %"
        for name, gain in zip(("red", "green", "blue"), colour.gains, strict=True)
    )
    reaches = ", ".join(f"{share:.1f} % within {r}" for r, share in
                        colour.scattered_by_reach.items())  # fmt: skip
    return [
        Row(
            what="patches left out of the fit",
            value=spread_words(colour.left_out),
            good="mean below 2; expect 1 to 1.5 times as much on paint",
        ),
        Row(
            what="patches in the fit",
            value=spread_words(colour.fitted),
            good="close to the row above: then the fit learnt the scanner, not the strip",
        ),
        Row(
            what="with this tile's own matrix",
            value=spread_words(colour.own),
            good="hardly better than in the fit",
        ),
        Row(
            what="own matrix against the shared one",
            value=f"{colour.departure:.2f} ΔE2000; noise explains {colour.departure_noise:.2f}",
            good="below 0.3, or below 2.5 times the noise",
        ),
        Row(what="light against the first tile", value=gains, good="the same for all tiles"),
        Row(
            what="light at the strip's ends",
            value=f"left {colour.fall_off[0]:+.1f} %, right {colour.fall_off[1]:+.1f} % of the "
            "middle's",
            good="within 6 %; it was evened out",
        ),
        Row(
            what="scattered light removed",
            value=f"{colour.scattered:.1f} % of the surrounding light ({reaches}); the darkest "
            f"places lost {colour.scattered_dark:.0f} % of theirs",
            good="up to 6 %; above that clean the glass",
        ),
        Row(
            what="form of the tone curve",
            value=", ".join(
                f"{name} ({share * 100:.0f} %)" for name, share in colour.curve.items()
            ),
            good="one form, or several that agree",
        ),
    ]


def result_rows(tile: TileReport) -> list[Row]:
    """Say what was written of a tile, and what the space could not hold."""
    rows = []
    if tile.written is not None:
        rows.append(Row(what="written", value=tile.written, good=""))
    if tile.gamut is not None:
        rows.append(
            Row(
                what=f"outside {tile.gamut.space}",
                value=f"{tile.gamut.share * 100:.2f} % of the pixels, clipped channel by channel; "
                f"largest change {tile.gamut.largest or 0:.1f} ΔE2000",
                good="below 1 %; else choose the larger space",
            )
        )
    return rows


@dataclass(frozen=True, kw_only=True)
class LevelTable:
    """An outcome as a table: one row per metric, one column per level."""

    title: str
    reached: str
    source: str
    levels: tuple[str, ...]
    rows: tuple[tuple[str, str, str, tuple[tuple[str, str], ...]], ...]


def level_table(outcome: Outcome) -> LevelTable:
    """Turn an outcome into a table; each cell holds a limit and whether it was met."""
    names = tuple(outcome.checks)
    keys = dict.fromkeys(c.metric.key for checks in outcome.checks.values() for c in checks)
    rows = []
    for key in keys:
        cells = [
            next((c for c in outcome.checks[name] if c.metric.key == key), None) for name in names
        ]
        first = next(c for c in cells if c is not None)
        rows.append((metric_title(first), first.metric.meaning, measured(first),
                     tuple(map(cell, cells))))  # fmt: skip
    return LevelTable(
        title=outcome.tolerance_set.title,
        reached=reached_words(outcome),
        source=outcome.tolerance_set.source,
        levels=names,
        rows=tuple(rows),
    )


def reached_words(outcome: Outcome) -> str:
    """Say what level was reached; its name only where there are several."""
    if outcome.level is None:
        return "not reached"
    return "reached" if len(outcome.checks) == 1 else f"{outcome.level} reached"


def metric_title(check: Check) -> str:
    """Name a metric with its formula."""
    variant = f" ({check.metric.variant})" if check.metric.variant else ""
    return f"{check.metric.title}{variant}"


def measured(check: Check) -> str:
    """Give a measured value with its unit."""
    if check.value is None:
        return "not measured"
    return f"{check.value:.2f} {check.metric.unit}".rstrip()


def cell(check: Check | None) -> tuple[str, str]:
    """Give a limit, and ``met``, ``missed`` or ``open``."""
    if check is None:
        return "no limit", "open"
    if check.passed is None:
        return check.tolerance.limit, "open"
    return check.tolerance.limit, "met" if check.passed else "missed"


def across_rows(report: JobReport) -> list[Row]:
    """Say what concerns all tiles."""
    rows = []
    if report.agreement is not None:
        rows.append(
            Row(
                what="tiles agree on the strip's patches to",
                value=f"{report.agreement:.2f} ΔE2000 mean",
                good="0.3 and less is invisible at a seam",
            )
        )
    if report.groups:
        groups = "; ".join(", ".join(Path(n).name for n in group) for group in report.groups)
        rows.append(Row(what="scanned with the same settings", value=groups, good="one group"))
    if report.swatches is not None:
        rows += [Row(what=a, value=b, good=c) for a, b, c in swatch_rows(report.swatches)]
    return rows


def placing_rows(merged: MergedReport) -> list[Row]:
    """Say how well tiles coincide, if any two were compared."""
    if merged.placing_largest == 0:
        return []
    return [
        Row(
            what="tiles coincide to",
            value=f"{merged.placing_rms:.2f} pixels RMS, {merged.placing_largest:.2f} at the "
            "worst place compared",
            good="below 0.5: above it doubling shows",
        )
    ]


def merged_rows(merged: MergedReport) -> list[Row]:
    """Give the figures of the joined picture."""
    stated = "" if merged.sheet is None else f"{merged.sheet[0]:g} × {merged.sheet[1]:g} mm stated"
    return [
        Row(what="written", value=merged.written, good=""),
        Row(
            what="size",
            value=f"{merged.width} × {merged.height} pixels at {merged.ppi:.0f} ppi, "
            f"{merged.size[0]:.1f} × {merged.size[1]:.1f} mm",
            good=stated or "as the painting measures; give --sheet to have it checked",
        ),
        *placing_rows(merged),
        Row(
            what=f"outside {merged.gamut.space}",
            value=f"{merged.gamut.share * 100:.2f} % of the pixels, clipped channel by channel",
            good="below 1 %; else choose the larger space",
        ),
        Row(
            what="shown by no tile, left white",
            value=f"{merged.uncovered * 100:.2f} % of the picture",
            good="0 %",
        ),
    ]
