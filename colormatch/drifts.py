"""What a studio's log says over time, as records; no arithmetic."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Quantity(StrEnum):
    """What is followed over time; all but the last two in percent."""

    LIGHT_RED = "light-red"
    LIGHT_GREEN = "light-green"
    LIGHT_BLUE = "light-blue"
    BLUE_OVER_RED = "blue-over-red"
    CYAN = "cyan"
    MAGENTA = "magenta"
    YELLOW = "yellow"
    CYAN_OVER_MAGENTA = "cyan-over-magenta"
    MAGENTA_OVER_YELLOW = "magenta-over-yellow"
    YELLOW_OVER_CYAN = "yellow-over-cyan"
    TONE = "tone"
    MEAN = "mean"
    P95 = "p95"


LIGHTS = (Quantity.LIGHT_RED, Quantity.LIGHT_GREEN, Quantity.LIGHT_BLUE)
INKS = (Quantity.CYAN, Quantity.MAGENTA, Quantity.YELLOW)
UNEVEN = {
    (Quantity.CYAN, Quantity.MAGENTA): Quantity.CYAN_OVER_MAGENTA,
    (Quantity.MAGENTA, Quantity.YELLOW): Quantity.MAGENTA_OVER_YELLOW,
    (Quantity.YELLOW, Quantity.CYAN): Quantity.YELLOW_OVER_CYAN,
}
"""The difference of two inks, by those inks."""
FOLLOWED = tuple(q for q in Quantity if q not in (Quantity.MEAN, Quantity.P95))
"""What is tested for a change; the differences to the reference are shown only."""


class Cause(StrEnum):
    """What a change is put down to."""

    TOO_FEW = "too-few"
    STEADY = "steady"
    LAMP = "lamp"
    LAMP_OR_PAPER = "lamp-or-paper"
    PAPER = "paper"
    INK = "ink"
    INK_OR_COLOURS = "ink-or-colours"
    TONE = "tone"
    COLOURS = "scanner-colours"
    SETTINGS = "settings"
    OTHER_PRINT = "other-print"


@dataclass(frozen=True, kw_only=True)
class Day:
    """One day of one strip on one scanner.

    ``values`` holds a number per quantity that could be measured; ``level`` the light
    of red, green, blue of its neutrals against what the reference demands, percent,
    None if the reference is nominal.
    """

    date: str
    scans: int
    values: dict[Quantity, float]
    level: tuple[float, float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Trend:
    """A robust straight line through the days (P. K. Sen, JASA 63, 1968).

    Attributes
    ----------
    slope, low, high : float
        Per year, with the ends of its confidence interval.
    change : float
        Of the line from the first to the last day; the step's, if there is one.
    start : float
        Of the line on the first day.
    noise : float
        Robust standard deviation of the days about the line.
    least : float
        Smaller changes are not reported.
    changed : bool
        Whether there is a step, or the interval excludes 0 and the change is not below
        ``least``.
    jump : tuple of str or None
        The days between which it changed at once, if a step fits much better.
    """

    slope: float
    low: float
    high: float
    change: float
    start: float
    noise: float
    least: float
    changed: bool
    jump: tuple[str, str] | None = None


@dataclass(frozen=True, kw_only=True)
class Series:
    """One strip on one scanner.

    ``trends`` is empty where there are too few days.
    """

    scanner: str
    strip: str
    reference_kind: str
    reference_key: str
    scans: int
    days: tuple[Day, ...]
    trends: dict[Quantity, Trend]

    @property
    def key(self) -> tuple[str, str, str]:
        """What tells this series from the others."""
        return self.scanner, self.strip, self.reference_key

    @property
    def changed(self) -> frozenset[Quantity]:
        """What changed."""
        return frozenset(q for q, trend in self.trends.items() if trend.changed)


@dataclass(frozen=True, kw_only=True)
class Statement:
    """What can be said of one series, and what to do.

    ``told`` is False where the log cannot tell one cause from another.
    """

    scanner: str
    strip: str
    reference_key: str
    cause: Cause
    told: bool
    text: str
    next_step: str

    def of(self, series: Series) -> bool:
        """Tell whether this is said of a series."""
        return (self.scanner, self.strip, self.reference_key) == series.key


@dataclass(frozen=True, kw_only=True)
class Limit:
    """Beyond this something should be done; ``why`` gives its reason."""

    quantities: tuple[Quantity, ...]
    value: float
    unit: str
    why: str


@dataclass(frozen=True, kw_only=True)
class HistoryReport:
    """What ``colormatch history`` says of a log."""

    log: str
    scans: int
    unusable: int
    series: tuple[Series, ...]
    statements: tuple[Statement, ...]
    limits: tuple[Limit, ...]
    assumed: tuple[str, ...]
    plot: str | None = None
