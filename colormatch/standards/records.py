"""The records tolerance sets are made of."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Metric:
    """Something that is measured on a strip.

    Attributes
    ----------
    key : str
        What measured values are filed under.
    title : str
        What a report calls it.
    unit : str
        Of the value; empty for a ratio.
    variant : str
        Which formula, where there are several: ``"CIEDE2000"``,
        ``"CIEDE2000 with SL = 1"`` or ``"CIE 1976"``; else empty.
    meaning : str
        How it is measured.
    """

    key: str
    title: str
    unit: str
    variant: str = ""
    meaning: str


@dataclass(frozen=True, kw_only=True)
class Tolerance:
    """The limits of one metric.

    Attributes
    ----------
    metric : str
        Key of the `Metric`.
    low, high : float or None
        Limits in the metric's unit; None where there is none.
    strict : bool
        True where the source says "less than", so that the limit itself fails.
    source : str
        Where this figure was read, if not where the set as a whole was.
    """

    metric: str
    low: float | None = None
    high: float | None = None
    strict: bool = False
    source: str = ""

    @property
    def limit(self) -> str:
        """The limits in words: ``"< 2"``, ``"≤ 4"``, ``"0.8 to 1.1"``."""
        if self.low is not None and self.high is not None:
            return f"{self.low:g} to {self.high:g}"
        sign = "<" if self.strict else "≤"
        return f"{sign} {self.high:g}"

    def excess(self, value: float) -> float:
        """Tell how far ``value`` lies beyond the nearer limit; negative within."""
        over = [] if self.high is None else [value - self.high]
        under = [] if self.low is None else [self.low - value]
        return max(over + under)

    def nearest(self, value: float) -> float | None:
        """Give the limit that ``value`` comes nearest to or goes beyond."""
        if self.low is not None and self.low - value == self.excess(value):
            return self.low
        return self.high

    def holds(self, value: float) -> bool:
        """Tell whether ``value`` is within the limits."""
        excess = self.excess(value)
        return excess < 0 or (excess == 0 and not self.strict)


@dataclass(frozen=True, kw_only=True)
class Level:
    """One level of a tolerance set; its first tolerance is the mean difference."""

    name: str
    tolerances: tuple[Tolerance, ...]


@dataclass(frozen=True, kw_only=True)
class ToleranceSet:
    """The levels of one guideline or standard.

    Attributes
    ----------
    name : str
        What the command line calls it.
    title : str
        Guideline or standard with edition and table: completes the sentence
        "measured against the figures of".
    source : str
        Where the figures were read, and how far that can be trusted.
    note : str
        What to bear in mind about the comparison.
    levels : tuple of Level
        Best first.
    """

    name: str
    title: str
    source: str
    note: str
    levels: tuple[Level, ...]
