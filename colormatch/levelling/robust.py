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

from colormatch.model import FloatArray

CUT = 5.5
"""Cut-off of the biweight in scales, for three parts together."""
MEDIAN_OF_THREE = 1.538
"""Median length of three normal components of unit sigma (chi, 3 degrees)."""
CORRELATED = 2.0
"""Neighbouring samples share surroundings and texture: four count as one."""
CUTS = (0.12, 0.08, 0.055, 0.038, 0.026, 0.0, 0.0)
"""Least cut-off of each round, log light."""
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
        result: FloatArray = self.parts - self.design @ unknowns[self.columns]
        return result


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit:
    """Unknowns (size, 3), the inverse normal matrices, and each block's scale."""

    unknowns: FloatArray
    factors: tuple[FloatArray, FloatArray]
    scales: tuple[float, ...]

    def covariance(self, part: int) -> FloatArray:
        """Give the covariance (size, size) of one part."""
        from scipy.linalg import lapack

        inverse, info = lapack.dpotri(self.factors[min(part, 1)], lower=1)
        if info != 0:
            raise FloatingPointError("the light's equations are singular")
        lower = np.tril(inverse)
        return np.asarray(lower + np.tril(inverse, -1).T)


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
    factors: tuple[FloatArray, FloatArray] | None = None
    scales: list[float] = []
    for least in cuts:
        scales = [scale_of(b, r) for b, r in zip(blocks, left, strict=True)]
        weights = [weights_of(b, r, s, least) for b, r, s in zip(blocks, left, scales, strict=True)]
        unknowns, factors = _solved(blocks, weights, priors)
        left = [b.remaining(unknowns) for b in blocks]
    if factors is None:
        raise ValueError("cuts must name at least one round")
    return Fit(unknowns=unknowns, factors=factors, scales=tuple(scales))


def _first(block: Block) -> FloatArray:
    """Departure from the block's own median, to begin with."""
    if block.anchor or not block.trusted.any():
        return np.zeros_like(block.parts)
    return np.asarray(block.parts - np.median(block.parts[block.trusted], axis=0))


def scale_of(block: Block, left: FloatArray) -> float:
    """Robust size of what is left, in units of the block's own sigma."""
    if block.anchor or not block.trusted.any():
        return 1.0
    size = np.linalg.norm(left[block.trusted], axis=1) / block.sigma[block.trusted]
    return max(float(np.median(size)) / MEDIAN_OF_THREE, LEAST_SCALE)


def weights_of(block: Block, left: FloatArray, scale: float, least: float) -> FloatArray:
    """Inverse variances (N,) after reweighting; zero where left out."""
    size = np.linalg.norm(left, axis=1)
    if block.anchor:
        huber = np.minimum(1.0, ANCHOR_CUT * block.sigma / np.maximum(size, 1e-12))
        return np.asarray(huber / block.sigma**2)
    cut = np.maximum(CUT * scale * block.sigma, least)
    biweight = np.clip(1.0 - (size / cut) ** 2, 0.0, None) ** 2 * block.trusted
    return np.asarray(biweight / (CORRELATED * scale * block.sigma) ** 2)


def _solved(
    blocks: Sequence[Block], weights: Sequence[FloatArray], priors: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, tuple[FloatArray, FloatArray]]:
    """Solve the normal equations of both kinds of parts."""
    from scipy.linalg import cho_factor, cho_solve

    size = len(priors[0])
    normal, right = np.zeros((size, size)), np.zeros((size, 3))
    for block, weight in zip(blocks, weights, strict=True):
        weighted = block.design * weight[:, None]
        normal[np.ix_(block.columns, block.columns)] += weighted.T @ block.design
        right[block.columns] += weighted.T @ block.parts
    factors = tuple(cho_factor(normal + p, lower=True)[0] for p in priors)
    unknowns = np.column_stack(
        [cho_solve((factors[0], True), right[:, :1]), cho_solve((factors[1], True), right[:, 1:])]
    )
    return unknowns, (factors[0], factors[1])
