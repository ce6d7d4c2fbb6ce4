"""Similarities and affine maps from point pairs of which some are wrong."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray

PAIRS_TRIED = 600
SAMPLE_SEED = 5
REWEIGHTINGS = 8
REFITS = 3
LEAST_FOR_AFFINE = 8
SLENDER = 0.05
COMPLEX = np.array([1.0, 1.0j])


def fitted_similarity(
    source: FloatArray, target: FloatArray, weight: FloatArray | None = None
) -> FloatArray:
    """Least-squares similarity as a (2, 3) matrix, target = source @ m[:, :2].T + m[:, 2].

    Points as complex numbers: target = p * source + q, a linear problem.
    """
    w = np.ones(len(source)) if weight is None else weight
    z = source[:, 0] + 1j * source[:, 1]
    t = target[:, 0] + 1j * target[:, 1]
    z0, t0 = np.average(z, weights=w), np.average(t, weights=w)
    power = (w * np.abs(z - z0) ** 2).sum()
    p = (w * np.conj(z - z0) * (t - t0)).sum() / power if power > 0 else 1.0 + 0.0j
    q = t0 - p * z0
    return np.array([[p.real, -p.imag, q.real], [p.imag, p.real, q.imag]])


def fitted_affine(
    source: FloatArray, target: FloatArray, weight: FloatArray | None = None
) -> FloatArray:
    """Least-squares affine map as a (2, 3) matrix."""
    w = np.sqrt(np.ones(len(source)) if weight is None else weight)[:, None]
    middle = source.mean(axis=0)
    design = np.column_stack([source - middle, np.ones(len(source))])
    solution = np.linalg.lstsq(w * design, w * target, rcond=None)[0].T
    solution[:, 2] -= solution[:, :2] @ middle
    return np.asarray(solution)


def residuals(matrix: FloatArray, source: FloatArray, target: FloatArray) -> FloatArray:
    """Distances of mapped sources from targets, (N,)."""
    gap = source @ matrix[:, :2].T + matrix[:, 2] - target
    return np.asarray(np.hypot(gap[:, 0], gap[:, 1]))


def consensus_similarity(
    source: FloatArray, target: FloatArray, reach: float, *, max_turn: float, max_scale: float
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Similarity most point pairs agree on, and which do.

    Parameters
    ----------
    source, target : ndarray of shape (N, 2)
        N at least 2.
    reach : float
        Distance within which a pair agrees.
    max_turn : float
        Largest turn believed, degrees.
    max_scale : float
        Largest departure of the scale from 1 believed.

    Notes
    -----
    Random samples of two (M. Fischler, R. Bolles, Comm. ACM 24, 381, 1981),
    from a fixed seed so that a run can be repeated.
    """
    z, t = source @ COMPLEX, target @ COMPLEX
    p, q = _guesses(z, t, max_turn=max_turn, max_scale=max_scale)
    gap = np.abs(p[:, None] * z + q[:, None] - t)
    best = int((np.minimum(gap, reach) ** 2).sum(axis=1).argmin())
    matrix = np.array(
        [[p[best].real, -p[best].imag, q[best].real], [p[best].imag, p[best].real, q[best].imag]]
    )
    inlier = gap[best] < reach
    for _ in range(REFITS):
        if inlier.sum() < 3:
            break
        matrix = fitted_similarity(source[inlier], target[inlier])
        inlier = residuals(matrix, source, target) < reach
    return matrix, inlier


def _guesses(
    z: NDArray[np.complexfloating],
    t: NDArray[np.complexfloating],
    *,
    max_turn: float,
    max_scale: float,
) -> tuple[NDArray[np.complexfloating], NDArray[np.complexfloating]]:
    """Fit t = p z + q through random pairs of points, and one plain shift."""
    rng = np.random.default_rng(SAMPLE_SEED)
    one, two = rng.integers(0, len(z), (2, PAIRS_TRIED))
    apart = z[two] != z[one]
    one, two = one[apart], two[apart]
    p = (t[two] - t[one]) / (z[two] - z[one])
    sound = np.abs(np.abs(p) - 1.0) < max_scale
    sound &= np.abs(np.degrees(np.angle(p))) < max_turn
    q = t[one] - p * z[one]
    shift = np.median((t - z).real) + 1j * np.median((t - z).imag)
    return np.append(p[sound], 1.0 + 0.0j), np.append(q[sound], shift)


def robust_affine(
    source: FloatArray, target: FloatArray, reach: float
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Affine map near the identity by reweighting, and which pairs agree with it.

    With fewer than eight agreeing pairs, or all near one line, a similarity.
    """
    matrix, inlier = consensus_similarity(
        source, target, reach=2.0 * reach, max_turn=4.0, max_scale=0.03
    )
    agreeing = source[inlier]
    if len(agreeing) < LEAST_FOR_AFFINE or _slender(agreeing):
        return matrix, residuals(matrix, source, target) < reach
    for _ in range(REWEIGHTINGS):
        gap = residuals(matrix, source, target)
        weight = (gap < 2.0 * reach) / (1.0 + (gap / (0.3 * reach)) ** 2)
        if (weight > 0).sum() < LEAST_FOR_AFFINE:
            break
        matrix = fitted_affine(source, target, weight)
    return matrix, residuals(matrix, source, target) < reach


def _slender(points: FloatArray) -> bool:
    """Whether points lie so near one line that an affine map would run wild."""
    spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return bool(spread[-1] < SLENDER * spread[0])
