"""Tolerance sets: how good is good enough, according to whom.

The figures themselves are in `colormatch.standards.figures`. Only what a strip beside
the painting can show is in them: colour, tone, neutrality, contrast, noise and scale
at the strip's own place and for its own inks. Evenness over the glass, sharpness and
geometry need other means, so no result may be called compliant with anything: say
"measured against the figures of" the set's title.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from colormatch.errors import InputError
from colormatch.standards.figures import METRICS, TOLERANCE_SETS
from colormatch.standards.records import Level, Metric, Tolerance, ToleranceSet

Measured = Mapping[str, float | Sequence[float]]
"""Values by metric key; several where a metric has several (gain of each step)."""


@dataclass(frozen=True, kw_only=True)
class Check:
    """One figure of one level, beside what was measured.

    Attributes
    ----------
    metric : Metric
        What was compared.
    tolerance : Tolerance
        With what.
    value : float or None
        The measured value; of several the worst; None if not measured.
    passed : bool or None
        None if not measured.
    """

    metric: Metric
    tolerance: Tolerance
    value: float | None
    passed: bool | None


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What measured values reach in a tolerance set.

    Attributes
    ----------
    tolerance_set : ToleranceSet
        Which one.
    level : str or None
        Name of the best level reached; None if even the last was missed.
    checks : dict
        For each level, by name, best first, one `Check` for each of its figures.
    """

    tolerance_set: ToleranceSet
    level: str | None
    checks: dict[str, tuple[Check, ...]]

    @property
    def shown(self) -> tuple[Check, ...]:
        """The checks of the level reached, or of the last if none was."""
        return self.checks[self.level or self.tolerance_set.levels[-1].name]


def tolerance_set(name: str) -> ToleranceSet:
    """Give the tolerance set called ``name``.

    Raises
    ------
    InputError
        If there is none; the message lists those there are.
    """
    try:
        return TOLERANCE_SETS[name]
    except KeyError:
        known = ", ".join(TOLERANCE_SETS)
        raise InputError(f"unknown tolerance {name!r}: choose one of {known}") from None


def levels_reached(figures: ToleranceSet, measured: Measured) -> Outcome:
    """Compare measured values with every level of a tolerance set.

    A level is reached when its first figure, the mean colour difference, was
    measured and no measured figure misses its limits. Figures that were not
    measured are reported as such and decide nothing.

    Parameters
    ----------
    figures : ToleranceSet
        One of `TOLERANCE_SETS`.
    measured : mapping
        Values by the keys of `METRICS`, in the units stated there. A sequence
        stands for several values that must all be within the limits.

    Returns
    -------
    Outcome
        The best level reached and every single check.

    Raises
    ------
    ValueError
        If a key is unknown or a value is not finite: leave out what could not be
        measured.
    """
    values = {key: _values(key, value) for key, value in measured.items()}
    checks = {
        level.name: tuple(_check(tolerance, values) for tolerance in level.tolerances)
        for level in figures.levels
    }
    reached = (name for name, level in checks.items() if _holds(level))
    return Outcome(tolerance_set=figures, level=next(reached, None), checks=checks)


def _values(key: str, value: float | Sequence[float]) -> tuple[float, ...]:
    """Give the values of one metric as a tuple, none of them doubtful."""
    values = tuple(map(float, value)) if isinstance(value, Sequence) else (float(value),)
    if key not in METRICS:
        raise ValueError(f"unknown metric {key!r}: known are {', '.join(METRICS)}")
    if not values or not all(map(math.isfinite, values)):
        raise ValueError(f"{key} must be finite (got {value}): leave out what was not measured")
    return values


def _check(tolerance: Tolerance, values: Mapping[str, tuple[float, ...]]) -> Check:
    """Compare the worst value of a metric with its limits."""
    metric = METRICS[tolerance.metric]
    if tolerance.metric not in values:
        return Check(metric=metric, tolerance=tolerance, value=None, passed=None)
    worst = max(values[tolerance.metric], key=tolerance.excess)
    return Check(metric=metric, tolerance=tolerance, value=worst, passed=tolerance.holds(worst))


def _holds(checks: tuple[Check, ...]) -> bool:
    return bool(checks[0].passed) and all(check.passed is not False for check in checks)


__all__ = [
    "METRICS",
    "TOLERANCE_SETS",
    "Check",
    "Level",
    "Measured",
    "Metric",
    "Outcome",
    "Tolerance",
    "ToleranceSet",
    "levels_reached",
    "tolerance_set",
]
