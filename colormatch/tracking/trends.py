"""Robust straight lines through days, and steps that fit better."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from colormatch.drifts import FOLLOWED, INKS, LIGHTS, UNEVEN, Day, Quantity, Trend
from colormatch.model import FloatArray

FEWEST_DAYS = 8
"""Fewer days tell no trend from chance at this confidence."""
SHORTEST_DAYS = 30
"""Span below which nothing is said of ageing."""
CONFIDENCE = 1 - 0.05 / len(FOLLOWED)
"""Per quantity, so that a steady series is called changed once in twenty at most
(C. E. Bonferroni, 1936). Days are taken to be independent."""
LEAST = {
    **dict.fromkeys(LIGHTS, 1.0),
    Quantity.BLUE_OVER_RED: 1.0,
    **dict.fromkeys((*INKS, *UNEVEN.values(), Quantity.TONE), 2.0),
}
"""Percent that are reported at least: 1 % of light is 0.2 ΔE2000 before it is corrected."""
YEAR = 365.25
STEP_FIT = 0.7
"""Share of the line's misfit that a step must stay below to be called one."""
STEP_SIDE = 3
"""Days on each side of a step at least."""
STEP_NOISE = 4.0
"""Noise of the days that a step must be at least; what keeps chance out."""
STEP_CHANCE = 0.05
"""Of the rank test, over all places that are tried; few days reach no less."""
NORMAL = 1.4826
"""Standard deviation of normal noise over its median absolute deviation."""


def enough(days: Sequence[Day]) -> bool:
    """Tell whether the days are many and far enough apart for a trend."""
    return len(days) >= FEWEST_DAYS and _years(days)[-1] * YEAR >= SHORTEST_DAYS


def trends_of(days: Sequence[Day]) -> dict[Quantity, Trend]:
    """Give the trend of every quantity that enough days show; empty if too few.

    Parameters
    ----------
    days : sequence of Day
        In the order of time.
    """
    if not enough(days):
        return {}
    found: dict[Quantity, Trend] = {}
    for quantity in FOLLOWED:
        shown = [day for day in days if quantity in day.values]
        if enough(shown):
            values = np.array([day.values[quantity] for day in shown])
            found[quantity] = trend(shown, values, LEAST[quantity])
    return found


def trend(days: Sequence[Day], values: FloatArray, least: float) -> Trend:
    """Fit the line whose slope is the median of all slopes between two days.

    The interval is the one of Sen (1968), as `scipy.stats.theilslopes` gives it.

    Parameters
    ----------
    days : sequence of Day
    values : ndarray of shape (N,)
    least : float
        Change below which nothing is called changed.
    """
    from scipy.stats import theilslopes

    years = _years(days)
    line = theilslopes(values, years, alpha=CONFIDENCE)
    left = values - line.intercept - line.slope * years
    change = float(line.slope * years[-1])
    outside = line.low_slope > 0 or line.high_slope < 0
    step = _step(values, float(np.abs(left - np.median(left)).sum()), least)
    return Trend(
        slope=float(line.slope),
        low=float(line.low_slope),
        high=float(line.high_slope),
        change=change if step is None else step[1],
        start=float(line.intercept),
        noise=NORMAL * float(np.median(np.abs(left - np.median(left)))),
        least=least,
        changed=step is not None or bool(outside and abs(change) >= least),
        jump=None if step is None else (days[step[0] - 1].date, days[step[0]].date),
    )


def _years(days: Sequence[Day]) -> FloatArray:
    """Years since the first day, shape (N,)."""
    numbers = np.array([date.fromisoformat(day.date).toordinal() for day in days], dtype=float)
    return (numbers - numbers[0]) / YEAR if len(numbers) else np.zeros(1)


def _step(values: FloatArray, line_misfit: float, least: float) -> tuple[int, float] | None:
    """Find where one step explains the days much better than a line, and its size.

    The two sides must differ by the rank test of Mann and Whitney (1947), for as many
    places as are tried.
    """
    from scipy.stats import mannwhitneyu

    def sides(k: int) -> FloatArray:
        return np.concatenate([part - np.median(part) for part in (values[:k], values[k:])])

    places = range(STEP_SIDE, len(values) - STEP_SIDE + 1)
    if not places:
        return None
    best = min(places, key=lambda k: float(np.abs(sides(k)).sum()))
    rest = np.abs(sides(best))
    size = float(np.median(values[best:]) - np.median(values[:best]))
    chance = float(mannwhitneyu(values[:best], values[best:]).pvalue) * len(places)
    clear = abs(size) >= max(least, STEP_NOISE * NORMAL * float(np.median(rest)))
    better = float(rest.sum()) <= STEP_FIT * line_misfit
    return (best, size) if clear and better and chance < STEP_CHANCE else None
