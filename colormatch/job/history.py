"""History: what a studio's log says over time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from colormatch.drifts import INKS, LIGHTS, HistoryReport, Limit, Quantity, Series
from colormatch.errors import InputError
from colormatch.files.log import read_log
from colormatch.files.whole import written_whole
from colormatch.job.folders import refuse_existing
from colormatch.logbook import LogEntry
from colormatch.standards.tolerances import tolerance_set
from colormatch.tracking.causes import statements_of
from colormatch.tracking.readings import series_of
from colormatch.tracking.trends import CONFIDENCE

LIGHT_LIMIT = 10.0
"""Percent of light: 2 ΔE2000 where nothing corrects it, and every scan does; beyond it
the lamp is worth a look (our choice)."""
INK_LIMIT = 10.0
"""Percent of density: about 1 ΔE2000 on average over a strip (0.4 to 1.1 by ink, in the
spectral model of the demo); a reference that old misleads the fit (our choice)."""
NAMED = 8
"""Names that an error lists."""


@dataclass(frozen=True, kw_only=True)
class HistoryOptions:
    """What of a log to show.

    Attributes
    ----------
    log : Path
    scanner, strip : str
        Names as the log has them, in any case; empty for all. They choose what is
        shown; the others still serve to tell causes apart.
    since : str
        Day, month or year from which scans count: ``2026-03-01``, ``2026-03``, ``2026``.
    plot : Path or None
        A drawing to write, ``.svg`` or ``.png``.
    """

    log: Path
    scanner: str = ""
    strip: str = ""
    since: str = ""
    plot: Path | None = None


def history(options: HistoryOptions) -> HistoryReport:
    """Follow every strip on every scanner of a log.

    Raises
    ------
    LogFileError
        If the file is no log of ours.
    InputError
        If a name or a date is none, or no scan is left.
    OutputError
        If the plot exists already or cannot be written.
    """
    if options.plot is not None:
        from colormatch.reporting.shapes import refuse_ending

        refuse_ending(options.plot.suffix)
        refuse_existing([options.plot], force=False)
    entries = since(read_log(options.log), options)
    everything = series_of(entries)
    shown = chosen(everything, options)
    report = HistoryReport(
        log=str(options.log),
        scans=len(entries),
        unusable=sum(bool(entry.error) for entry in entries),
        series=shown,
        statements=tuple(
            said for said in statements_of(everything) if any(said.of(one) for one in shown)
        ),
        limits=limits_of(entries),
        assumed=assumed_of(shown),
        plot=None if options.plot is None else str(options.plot),
    )
    if options.plot is not None:
        draw_history(report, options.plot)
    return report


def since(entries: Sequence[LogEntry], options: HistoryOptions) -> list[LogEntry]:
    """Keep the scans from a day on."""
    if not entries:
        raise InputError(f"{options.log} holds no scans yet: give --log to check, match or merge")
    if not options.since:
        return list(entries)
    if not re.fullmatch(r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?", options.since):
        raise InputError(f"{options.since!r} is no date: write it like 2026-03-01, 2026-03 or 2026")
    kept = [entry for entry in entries if entry.time[: len(options.since)] >= options.since]
    if not kept:
        raise InputError(
            f"{options.log} holds no scan since {options.since}: its last is of "
            f"{entries[-1].time[:10]}"
        )
    return kept


def chosen(series: Sequence[Series], options: HistoryOptions) -> tuple[Series, ...]:
    """Choose series by the names the user gave."""
    if not series:
        raise InputError(
            f"none of the scans in {options.log} could be used: nothing can be followed"
        )
    found = list(series)
    for what in ("scanner", "strip"):
        name = getattr(options, what)
        if name:
            found = [one for one in found if getattr(one, what).lower() == name.lower()]
    if not found:
        names = sorted({f"scanner {one.scanner!r} strip {one.strip!r}" for one in series})
        more = " …" if len(names) > NAMED else ""
        raise InputError(
            f"{options.log} has nothing by these names; it has {'; '.join(names[:NAMED])}{more}"
        )
    return tuple(found)


def limits_of(entries: Sequence[LogEntry]) -> tuple[Limit, ...]:
    """Give the limits that a plot shows."""
    found = [
        Limit(
            quantities=LIGHTS,
            value=LIGHT_LIMIT,
            unit="%",
            why="every scan is fitted to its own strip, so this much does no harm; beyond it "
            "have a look at lamp and glass (our choice)",
        ),
        Limit(
            quantities=(*INKS, Quantity.TONE),
            value=INK_LIMIT,
            unit="%",
            why="about 1 ΔE2000 over a strip: its values are out of date (our choice)",
        ),
    ]
    name = next((entry.tolerance for entry in reversed(entries) if entry.tolerance), "")
    mean = mean_limit(name) if name else None
    if mean is not None:
        title = tolerance_set(name).title
        found.append(
            Limit(quantities=(Quantity.MEAN,), value=mean, unit="ΔE2000", why=f"of {title}")
        )
    return tuple(found)


def mean_limit(name: str) -> float | None:
    """Give the mean CIEDE2000 that the last level of a tolerance set allows."""
    try:
        levels = tolerance_set(name).levels
    except InputError:
        # A log may name a set that this version no longer has.
        return None
    wanted = [t.high for t in levels[-1].tolerances if t.metric == "mean_de00"]
    return wanted[0] if wanted else None


def assumed_of(series: Sequence[Series]) -> tuple[str, ...]:
    """Say what the history rests on."""
    lines = [
        "a trend is the median of all slopes between two days (Theil and Sen), a change is named "
        f"when its {CONFIDENCE:.1%} interval excludes zero: one steady series in twenty is called "
        "changed; scans of one day count as one, days as independent",
        "changes are counted from the first three days, through the tone curve of the scanner's "
        "first day; shares of density are rough: simulated fading was read 0.8 to 1.4 times as "
        "large as it was",
        "the differences to the reference (ΔE2000) may stay small while a strip fades, because "
        "every scan is fitted to it",
    ]
    if any(not one.scanner for one in series):
        lines.append(
            "scans without a scanner's name are taken to be of one scanner: give --scanner NAME"
        )
    if any(one.reference_kind != "measured" for one in series):
        lines.append(
            "strips without measured values cannot be compared with the strip that came before"
        )
    return tuple(lines)


def draw_history(report: HistoryReport, path: Path) -> None:
    """Write the plot, whole or not at all."""
    from colormatch.reporting.history_plot import history_sheet
    from colormatch.reporting.shapes import picture_bytes

    data = picture_bytes(history_sheet(report), path.suffix)
    with written_whole(path) as temporary:
        temporary.write_bytes(data)
