"""Least squares with beliefs beforehand, robust against places that do not belong.

Reweighting with the biweight of J. Tukey, its scale taken from the median,
after P. Holland and R. Welsch, Comm. Stat. A 6(9), 1977. The cut-off begins
wide and narrows, so that a shadow over a third of an overlap is left out
before it can bend anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.levelling.panels import Factor, factored, gram, product
from colormatch.model import FloatArray

CUT = 5.5
"""Cut-off of the biweight in scales, for three parts together."""
MEDIAN_OF_THREE = 1.538
"""Median length of three normal components of unit sigma (chi, 3 degrees)."""
CORRELATED = 2.0
"""Neighbouring samples share surroundings and texture: four count as one."""
CUTS = (0.12, 0.08, 0.055, 0.038, 0.026, 0.0, 0.0)
"""Cut-off of each round, log light; 0 where the scale sets it."""
NARROW_CUTS = ((0.055, 0.045, 0.035, 0.026, 0.0, 0.0), (0.03, 0.022, 0.016, 0.0, 0.0))
"""The same when beginning where the strips alone would put the light."""
COMPARED_AS = 6.0
"""When whole solutions are compared, 36 samples (24 mm by 24 mm) count as one."""
ANCHOR_CUT = 2.5
LEAST_SCALE = 0.3


@dataclass(frozen=True, kw_only=True, eq=False)
class Block:
    """Equations of one overlap or one strip: ``design @ unknowns[columns] = parts``.

    Attributes
    ----------
    columns : ndarray of int, shape (C,)
    design : ndarray of shape (N, C)
    parts : ndarray of shape (N, 3)
    sigma : ndarray of shape (N,)
    trusted : ndarray of bool, shape (N,)
    anchor : bool
        True for a strip: few places, each known by its own sigma.
    """

    columns: NDArray[np.intp]
    design: FloatArray
    parts: FloatArray
    sigma: FloatArray
    trusted: NDArray[np.bool_]
    anchor: bool = False

    def remaining(self, unknowns: FloatArray) -> FloatArray:
        """Give what the unknowns leave unexplained, (N, 3)."""
        result: FloatArray = self.parts - product(self.design, unknowns[self.columns])
        return result


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit:
    """A solution.

    Attributes
    ----------
    unknowns : ndarray of shape (size, 3)
    factors : tuple of Factor
        Of the normal matrix for the mean of the channels and for their differences.
    scales : tuple of float
        Each block's size of what is left, in units of its sigma.
    """

    unknowns: FloatArray
    factors: tuple[Factor, Factor]
    scales: tuple[float, ...]

    def variances(self, columns: NDArray[np.intp], design: FloatArray) -> FloatArray:
        """Variance (N,) of ``design @ unknowns[columns]``, for the mean of the channels."""
        rows = np.zeros((len(design), len(self.unknowns)))
        rows[:, columns] = design
        return self.factors[0].variances(rows)


def fit(
    blocks: Sequence[Block],
    priors: tuple[FloatArray, FloatArray],
    *,
    start: FloatArray | None = None,
    cuts: Sequence[float] = CUTS,
) -> Fit:
    """Solve all blocks together.

    Parameters
    ----------
    blocks : sequence of Block
        May be empty: then the beliefs beforehand are the answer.
    priors : tuple of ndarray of shape (size, size)
        Precision for the mean of the channels and for their differences.
    start : ndarray of shape (size, 3) or None
        None to begin from each block's median.
    cuts : sequence of float
        Least cut-off of each round, log light.
    """
    left = [_first(b) if start is None else b.remaining(start) for b in blocks]
    unknowns: FloatArray = np.zeros((len(priors[0]), 3))
    factors: tuple[Factor, Factor] | None = None
    scales: list[float] = [1.0] * len(blocks)
    weights: list[FloatArray] = [np.asarray(b.trusted, dtype=float) for b in blocks]
    for least in cuts:
        both = list(zip(blocks, left, weights, strict=True))
        scales = [scale_of(b, r, w > 0) for b, r, w in both]
        weights = [weights_of(b, r, s, least) for (b, r, _), s in zip(both, scales, strict=True)]
        unknowns, factors = _solved(blocks, weights, priors)
        left = [b.remaining(unknowns) for b in blocks]
    if factors is None:
        raise ValueError("cuts must name at least one round")
    return Fit(unknowns=unknowns, factors=factors, scales=tuple(scales))


def likeliest_fit(blocks: Sequence[Block], priors: tuple[FloatArray, FloatArray]) -> Fit:
    """Solve from several beginnings and keep the solution that needs the least excuse.

    A shadow or a lifted band may fill most of an overlap; then its median is
    wrong, and the few clear places agree with the strips instead.

    Parameters
    ----------
    blocks, priors :
        As for `fit`.
    """
    fits = [fit(blocks, priors)]
    strips = [b for b in blocks if b.anchor]
    if strips and len(strips) < len(blocks):
        start = fit(strips, priors, cuts=(0.0, 0.0)).unknowns
        fits += [fit(blocks, priors, start=start, cuts=cuts) for cuts in NARROW_CUTS]
    scales = np.min([f.scales for f in fits], axis=0) if blocks else np.zeros(0)
    costs = [_cost(f, blocks, priors, scales) for f in fits]
    return fits[int(np.argmin(costs))]


def _cost(
    found: Fit, blocks: Sequence[Block], priors: tuple[FloatArray, FloatArray], scales: FloatArray
) -> float:
    """Twice the negative log of a solution's plausibility, up to a constant."""
    u = found.unknowns
    total = float(np.sum(u[:, :1] * (priors[0] @ u[:, :1])))
    total += float(np.sum(u[:, 1:] * (priors[1] @ u[:, 1:])))
    for block, scale in zip(blocks, scales, strict=True):
        size = np.linalg.norm(block.remaining(u), axis=1) / (scale * block.sigma)
        if block.anchor:
            huber = np.where(size < ANCHOR_CUT, size**2, ANCHOR_CUT * (2 * size - ANCHOR_CUT))
            total += float(huber.sum())
        else:
            biweight = 1.0 - np.clip(1.0 - (size / CUT) ** 2, 0.0, None) ** 3
            total += float(biweight.sum()) * CUT**2 / 3.0 / COMPARED_AS**2
    return total


def _first(block: Block) -> FloatArray:
    """Departure from the block's own median, to begin with."""
    if block.anchor or not block.trusted.any():
        return np.zeros_like(block.parts)
    return np.asarray(block.parts - np.median(block.parts[block.trusted], axis=0))


def scale_of(block: Block, left: FloatArray, inside: NDArray[np.bool_]) -> float:
    """Robust size of what is left, in units of the block's own sigma.

    Only places inside the last cut-off count: clear places may be the fewer.
    """
    if block.anchor or not inside.any():
        return 1.0
    size = np.linalg.norm(left[inside], axis=1) / block.sigma[inside]
    return max(float(np.median(size)) / MEDIAN_OF_THREE, LEAST_SCALE)


def weights_of(block: Block, left: FloatArray, scale: float, least: float) -> FloatArray:
    """Inverse variances (N,) after reweighting; zero where left out.

    With a least cut-off the scale sets none: it may still be a shadow's.
    """
    size = np.linalg.norm(left, axis=1)
    if block.anchor:
        huber = np.minimum(1.0, ANCHOR_CUT * block.sigma / np.maximum(size, 1e-12))
        return np.asarray(huber / block.sigma**2)
    spread = LEAST_SCALE if least > 0 else scale
    cut = np.maximum(CUT * spread * block.sigma, least)
    biweight = np.clip(1.0 - (size / cut) ** 2, 0.0, None) ** 2 * block.trusted
    return np.asarray(biweight / (CORRELATED * scale * block.sigma) ** 2)


def _solved(
    blocks: Sequence[Block], weights: Sequence[FloatArray], priors: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, tuple[Factor, Factor]]:
    """Solve the normal equations of both kinds of parts."""
    size = len(priors[0])
    normal, right = np.zeros((size, size)), np.zeros((size, 3))
    for block, weight in zip(blocks, weights, strict=True):
        normal[np.ix_(block.columns, block.columns)] += gram(block.design, weight)
        right[block.columns] += product(block.design.T, block.parts * weight[:, None])
    mean, rest = (factored(normal + prior) for prior in priors)
    unknowns = np.column_stack([mean.solve(right[:, :1]), rest.solve(right[:, 1:])])
    return unknowns, (mean, rest)
