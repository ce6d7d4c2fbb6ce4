"""Round dates along an axis."""

from __future__ import annotations

from datetime import date

WANTED = 8
"""Ticks at most."""


def date_ticks(first: int, last: int) -> list[tuple[int, str]]:
    """Give round days between two ordinals, with their names.

    Parameters
    ----------
    first, last : int
        Proleptic Gregorian ordinals, as `datetime.date.toordinal` gives them.

    Returns
    -------
    list of (int, str)
        Firsts of months or years, named ``2026-03``; days where the span is short.
    """
    for months in (1, 3, 6, 12, 24, 60, 120, 240):
        found = _months(first, last, months)
        if len(found) <= WANTED:
            break
    if len(found) >= 2:
        return found
    step = max(1, -(-(last - first) // (WANTED - 1)))
    return [(day, date.fromordinal(day).isoformat()) for day in range(first, last + 1, step)]


def _months(first: int, last: int, step: int) -> list[tuple[int, str]]:
    start, end = date.fromordinal(first), date.fromordinal(last)
    found = []
    for number in range(start.year * 12 + start.month - 1, end.year * 12 + end.month):
        day = date(number // 12, number % 12 + 1, 1)
        if number % step == 0 and first <= day.toordinal() <= last:
            found.append((day.toordinal(), f"{day.year}-{day.month:02d}"))
    return found
