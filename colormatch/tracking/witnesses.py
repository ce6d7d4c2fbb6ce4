"""What one series says about another: the same strip elsewhere, another strip here."""

from __future__ import annotations

from datetime import date

import numpy as np

from colormatch.drifts import Quantity, Series, Trend

OVERLAP = 0.5
"""Share of a series' time that another must cover to contradict it."""
LEAST_STEP = 2.0
"""Percent that blue against red must have moved for a change of strip to tell of it."""
NEAR = 0.35
"""Of that, within which the next strip's level counts as where it should be."""
BLUE, RED = 2, 0


def _numbers(series: Series) -> tuple[int, int]:
    days = [date.fromisoformat(day.date).toordinal() for day in series.days]
    return days[0], days[-1]


def overlapping(one: Series, other: Series) -> bool:
    """Tell whether ``other`` covers enough of the time of ``one``."""
    (first, last), (start, end) = _numbers(one), _numbers(other)
    return min(last, end) - max(first, start) >= OVERLAP * (last - first)


def shared(one: Series, other: Series, quantity: Quantity) -> bool | None:
    """Tell whether ``other`` shows the change of ``one`` too.

    Returns
    -------
    bool or None
        True if both changed the same way by amounts that agree; False if their
        intervals exclude each other over the same time; None if the log does not tell.
    """
    here, there = one.trends.get(quantity), other.trends.get(quantity)
    if here is None or there is None or not here.changed:
        return None
    if _agree(here, there):
        return True if there.changed and here.slope * there.slope > 0 else None
    return False if overlapping(one, other) else None


def _agree(here: Trend, there: Trend) -> bool:
    return here.low <= there.high and there.low <= here.high


def carried_over(one: Series, later: Series) -> bool | None:
    """Tell whether a strip that came later began where ``one`` had drifted to.

    Compared is blue over red of the light neutrals against what each strip's own
    measured values demand: a lamp's change is still there with a fresh strip, a paper's
    is gone.

    Returns
    -------
    bool or None
        None where the strips were not both measured, ``later`` did not come later, or
        it lies between.
    """
    mine, theirs = _levels(one), _levels(later)
    if mine is None or theirs is None or _numbers(later)[0] < _numbers(one)[1]:
        return None
    count = max(2, len(mine) // 5)
    first, last = np.median(mine[:count]), np.median(mine[-count:])
    begun = np.median(theirs[: max(2, len(theirs) // 5)])
    step = abs(last - first)
    if step < LEAST_STEP:
        return None
    kept, gone = abs(begun - last) < NEAR * step, abs(begun - first) < NEAR * step
    return None if kept == gone else bool(kept)


def _levels(series: Series) -> list[float] | None:
    shown = [day.level[BLUE] - day.level[RED] for day in series.days if day.level is not None]
    return shown if shown else None
