"""A log's history as text for a terminal: what changed, by how much, since when."""

from __future__ import annotations

from collections.abc import Sequence

from colormatch.drifts import (
    FOLLOWED,
    INKS,
    LIGHTS,
    Day,
    HistoryReport,
    Limit,
    Quantity,
    Series,
    Trend,
)
from colormatch.reporting.wrapping import bullets, counted, sentence

MOST_DAYS = 24
"""Lines of the table of days; more are thinned out evenly, the first and last kept."""
TABLE = (Quantity.MEAN, Quantity.P95, *LIGHTS, *INKS, Quantity.TONE)
HEADS = ("mean", "P95", "red", "green", "blue", "cyan", "magenta", "yellow", "tones")
TITLES = {
    Quantity.LIGHT_RED: "light, red",
    Quantity.LIGHT_GREEN: "light, green",
    Quantity.LIGHT_BLUE: "light, blue",
    Quantity.CYAN: "cyan, density lost",
    Quantity.MAGENTA: "magenta, density lost",
    Quantity.YELLOW: "yellow, density lost",
    Quantity.TONE: "all tones, density lost",
}
"""What the table of trends shows."""


def text_history(report: HistoryReport) -> str:
    """Give a history as lines of text.

    Parameters
    ----------
    report : HistoryReport

    Returns
    -------
    str
        Ends without a line break.
    """
    count = counted(report.scans, "scan")
    lines = [f"{report.log}: {count}, {report.unusable} of which could not be used"]
    for one in report.series:
        lines += ["", *series_lines(one, report)]
    lines += ["", *bullets("limits", [limit_line(limit) for limit in report.limits])]
    lines += bullets("assumed", report.assumed)
    if report.plot is not None:
        lines += ["", f"plot: {report.plot}"]
    return "\n".join(lines)


def series_lines(one: Series, report: HistoryReport) -> list[str]:
    """Give one strip on one scanner: what is said of it, trends, days."""
    same = [other for other in report.series if other.key[:2] == one.key[:2]]
    # Measured again, a strip begins anew: its values tell the two apart.
    values = f", values {one.reference_key}" if len(same) > 1 else ""
    lines = [
        f"scanner {one.scanner or 'without a name'}, strip {one.strip}{values}: "
        f"{counted(one.scans, 'scan')} on {counted(len(one.days), 'day')}, "
        f"{one.days[0].date} to {one.days[-1].date}"
    ]
    for said in report.statements:
        if said.of(one):
            sign = "-" if said.told else "?"
            lines += sentence(said.text, f"    {sign} ", "      ")
            lines += sentence(f"next: {said.next_step}", "      ", "            ")
    lines += trend_lines(one, report.limits)
    return [*lines, *day_lines(one.days)]


def trend_lines(one: Series, limits: Sequence[Limit]) -> list[str]:
    """Give the changes from the first to the last day, with their uncertainty."""
    if not one.trends:
        return []
    lines = ["    change in percent from the first to the last day, range it lies in, limit:"]
    for quantity, title in TITLES.items():
        trend = one.trends.get(quantity)
        if trend is not None:
            lines.append(
                f"      {title:<24}{trend.change:+6.1f}   {interval(trend, one):<18}"
                f"{limit_state(one, quantity, limits)}"
            )
    return lines


def interval(trend: Trend, one: Series) -> str:
    """Give the range of a change, or when it jumped."""
    if trend.jump is not None:
        return f"at once, {trend.jump[0]} to {trend.jump[1]}"
    years = years_of(one)
    low, high = trend.low * years, trend.high * years
    return f"{low:+.1f} to {high:+.1f}"


def years_of(one: Series) -> float:
    """Give the time between the first and the last day, years of 365.25 days."""
    from datetime import date

    first, last = (date.fromisoformat(one.days[k].date) for k in (0, -1))
    return (last - first).days / 365.25


def limit_state(one: Series, quantity: Quantity, limits: Sequence[Limit]) -> str:
    """Say whether and since when a limit is passed."""
    limit = next((limit for limit in limits if quantity in limit.quantities), None)
    if limit is None:
        return ""
    beyond = [day.date for day in one.days if abs(day.values.get(quantity, 0.0)) > limit.value]
    if beyond and abs(one.days[-1].values.get(quantity, 0.0)) > limit.value:
        return f"  beyond {limit.value:g} {limit.unit} since {_run(one, quantity, limit)}"
    return f"  within {limit.value:g} {limit.unit}"


def _run(one: Series, quantity: Quantity, limit: Limit) -> str:
    """Give the first day of the last unbroken run beyond a limit."""
    since = one.days[-1].date
    for day in reversed(one.days):
        if abs(day.values.get(quantity, 0.0)) <= limit.value:
            break
        since = day.date
    return since


def day_lines(days: Sequence[Day]) -> list[str]:
    """Give a table of days."""
    shown = thinned(days)
    heads = "".join(f"{head:>9}" for head in HEADS)
    note = "" if len(shown) == len(days) else f" ({len(shown)} of {len(days)} days)"
    lines = [f"    day by day{note}: ΔE2000, then percent", f"      {'':<10}{heads}"]
    for day in shown:
        cells = "".join(f"{_cell(day, quantity):>9}" for quantity in TABLE)
        lines.append(f"      {day.date}{cells}")
    return lines


def thinned(days: Sequence[Day]) -> list[Day]:
    """Keep at most `MOST_DAYS`, evenly, with the first and the last."""
    if len(days) <= MOST_DAYS:
        return list(days)
    step = (len(days) - 1) / (MOST_DAYS - 1)
    return [days[round(k * step)] for k in range(MOST_DAYS)]


def _cell(day: Day, quantity: Quantity) -> str:
    value = day.values.get(quantity)
    if value is None:
        return "-"
    return f"{value:+.1f}" if quantity in FOLLOWED else f"{value:.2f}"


def limit_line(limit: Limit) -> str:
    """Say what a limit is for."""
    names = ", ".join(quantity.value for quantity in limit.quantities)
    return f"{names}: {limit.value:g} {limit.unit}, {limit.why}"
