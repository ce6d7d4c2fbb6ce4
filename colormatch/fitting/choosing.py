"""Which tone curve: several forms are solved, and each counts as the patches allow.

Printed black is lighter than black paint, so the strip says little about the
darkest tones; forms that fit the patches equally well are averaged there
instead of betting on one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from colormatch.fitting.problem import EXPONENT_SPREAD, Solution
from colormatch.fitting.readings import TileReadings, rows_by_patch
from colormatch.fitting.solving import residuals_of, solve_tiles, typical_error
from colormatch.fitting.tone import ToneCurve, starting_curves, straight
from colormatch.model import FloatArray

BEND_PRICE = 8.0
"""Log-likelihood a bent curve must gain: half its unknowns times log of the data's number."""
TEMPER = 2.0
"""Residuals of neighbouring colours resemble each other: so many count as one."""
LEVELS = 1024


@dataclass(frozen=True, kw_only=True, eq=False)
class Choice:
    """The chosen solution and how much each form of curve counted in it.

    ``shares`` maps the form (``"power 2.19"``) to its weight, summing to 1.
    """

    solution: Solution
    shares: dict[str, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class Trial:
    """One form of curve and what came of it."""

    base: ToneCurve
    bends: bool
    solution: Solution

    @property
    def price(self) -> float:
        """Log-likelihood lost to unknowns spent and to an unlikely exponent."""
        moved = self.solution.curve.exponent - self.base.exponent
        strange = (moved / EXPONENT_SPREAD[self.base.base]) ** 2 / 2
        return strange + (BEND_PRICE if self.bends else 0.0)


def choose(tiles: Sequence[TileReadings], table: FloatArray | None = None) -> Choice:
    """Solve with every form of curve and combine them by their likelihood.

    Parameters
    ----------
    tiles : sequence of TileReadings
        At least one.
    table : ndarray of shape (3, n) or None
        Decoding curves of an embedded input profile.
    """
    tried = [
        Trial(base=base, bends=bends, solution=solve_tiles(tiles, base, bends=bends))
        for base in starting_curves(table)
        for bends in (False, True)
    ]
    weights = likelihoods(tiles, tried)
    shares = {
        describe(trial.solution.curve): float(w)
        for trial, w in zip(tried, weights, strict=True)
        if w > 0.01
    }
    best = tried[int(np.argmax(weights))].solution
    if weights.max() > 0.97:
        return Choice(solution=best, shares=shares)
    curve = averaged([trial.solution.curve for trial in tried], weights, best)
    return Choice(solution=solve_tiles(tiles, curve, bends=False), shares=shares)


def likelihoods(tiles: Sequence[TileReadings], tried: Sequence[Trial]) -> FloatArray:
    """Relative weight of each solution, from residuals in one common unit."""
    left = [by_patch(tiles, np.concatenate(residuals_of(tiles, t.solution))) for t in tried]
    sigma = min(typical_error(e) for e in left)
    score = np.array(
        [robust_sum(e / sigma) / TEMPER + trial.price for e, trial in zip(left, tried, strict=True)]
    )
    weights = np.exp(score.min() - score)
    result: FloatArray = weights / weights.sum()
    return result


def by_patch(tiles: Sequence[TileReadings], error: FloatArray) -> FloatArray:
    """Mean over the tiles of each patch's error: what its ink does is the same in all."""
    return np.array([error[rows].mean(axis=0) for rows in rows_by_patch(tiles)])


def robust_sum(error: FloatArray) -> float:
    """Half the Huber sum of errors (N, 3) in units of their sigma per component."""
    size = np.linalg.norm(error, axis=1)
    bend = 3.85
    return float(np.where(size < bend, size**2 / 2, bend * (size - bend / 2)).sum())


def averaged(curves: Sequence[ToneCurve], weights: FloatArray, best: Solution) -> ToneCurve:
    """Mean of curves, each first scaled to agree in the middle tones."""
    levels = np.repeat(np.linspace(0.0, 1.0, LEVELS)[:, None], 3, axis=1)
    middle = slice(int(0.4 * LEVELS), int(0.8 * LEVELS))
    wanted = best.curve.linear(levels)
    table = np.zeros((LEVELS, 3))
    for curve, weight in zip(curves, weights, strict=True):
        light = curve.linear(levels)
        table += weight * light * (wanted[middle].mean() / light[middle].mean())
    return ToneCurve(base="profile", exponent=1.0, bend=straight(), table=table.T)


def describe(curve: ToneCurve) -> str:
    """Name a curve for the report."""
    names = {"power": "power", "srgb": "sRGB shape", "profile": "embedded profile"}
    bent = ", bent" if np.any(np.abs(curve.bend) > 1e-4) else ""
    exponent = f" {curve.exponent:.2f}" if curve.base == "power" else f" ^{curve.exponent:.2f}"
    return f"{names[curve.base]}{exponent}{bent}"
