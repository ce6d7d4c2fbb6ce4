"""What the reference itself is to blame for: not measured, or measured long ago."""

from __future__ import annotations

from datetime import date, datetime

from colormatch.job.sheets import own_serials
from colormatch.model import Reference, StripReading
from colormatch.verdict import Advice, Finding, Kind

DAYS_A_YEAR = 365.25
OLD_YEARS, FADED_YEARS = 1.0, 3.0
"""Printed targets fade: measure again after a year or two (common practice, no source)."""
FORMS = (
    "%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y:%m:%d", "%d.%m.%Y", "%Y-%m", "%Y:%m", "%Y/%m",
    "%B %d, %Y", "%d %B %Y", "%b %d, %Y", "%d %b %Y", "%B %Y", "%Y",
)  # fmt: skip
"""Ways in which reference files state a day; what could be read in two ways is left out."""


def reference_findings(reference: Reference, today: date) -> list[Finding]:
    """List what is to be said of a reference.

    Parameters
    ----------
    reference : Reference
        Of the tile's strip.
    today : date
        When the scan is judged.
    """
    if reference.kind == "nominal":
        return [_nominal()]
    measured = stated_day(reference.facts.get("date", ""))
    if measured is None:
        return []
    years = (today - measured).days / DAYS_A_YEAR
    how = "given values" if reference.kind == "carried over" else "measured"
    return [_old(measured, years, how)] if years > OLD_YEARS else []


def other_sheet_finding(strip: StripReading, reference: Reference) -> Finding | None:
    """Name a strip that was given the values of another sheet because the user said so."""
    serials = own_serials(reference)
    known = reference.kind != "nominal" and serials
    if not (strip.serial and known) or strip.serial in serials:
        return None
    return Finding(
        kind=Kind.STRIP_OTHER_SHEET,
        advice=Advice.CARE,
        text=f"the strip is sheet {strip.serial}, its values are those of sheet "
        f"{' '.join(serials)}, as allowed by --any-sheet: prints of one design differ by several "
        "ΔE2000, strips of one page by less",
        next_step="have this very strip measured, or carry values over to it with transfer",
    )


def _nominal() -> Finding:
    return Finding(
        kind=Kind.NOMINAL_REFERENCE,
        advice=Advice.USE,
        text="the strip was not measured: tiles can be made to agree, but nobody can say that "
        "their colour is true",
        next_step="have the strip measured (a print shop can), or carry values over to it from a "
        "measured sheet (colormatch transfer), and give the file with --reference",
    )


def _old(measured: date, years: float, how: str) -> Finding:
    faded = years > FADED_YEARS
    return Finding(
        kind=Kind.OLD_REFERENCE,
        advice=Advice.CARE if faded else Advice.USE,
        text=f"the strip was {how} {years:.1f} years ago ({measured.isoformat()}): prints fade, "
        + ("so its colours are not certain any more" if faded else "most of all in daylight"),
        next_step="keep the strip in the dark, and have it measured again, or print a new one and "
        "have that measured",
        measure=years,
        unit="years",
        limit=OLD_YEARS,
    )


def stated_day(text: str) -> date | None:
    """Read a day, a month (its first day) or a year; None if it is none of the usual forms."""
    words = text.strip().split("T")[0].split(" at ")[0]
    for form in FORMS:
        for part in (words, words.split(" ")[0]):
            try:
                return datetime.strptime(part, form).date()
            except ValueError:
                continue
    return None
