"""Colour differences, and the local metric that a fit can use in their place."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from colormatch.colour.science import colour_science
from colormatch.colour.spaces import lab_from_xyz
from colormatch.model import FloatArray
from colormatch.standards.colorimetry import CIELAB_EPSILON, CIELAB_KAPPA, D50_XYZ

STEP = 0.02
"""Length of the differences, in CIELAB, from which the local metric is taken."""

DIRECTIONS = np.array(
    [[1, 0, 0], [0, 1, 0], [0, 0, 1], [1, 1, 0], [1, 0, 1], [0, 1, 1]], dtype=np.float64
)
"""Three axes and their pairwise sums: enough for the six numbers of a metric."""


def delta_e_2000(
    lab_a: ArrayLike, lab_b: ArrayLike, *, lightness_weight: bool = True
) -> FloatArray:
    """Give the CIEDE2000 colour difference.

    Parameters
    ----------
    lab_a, lab_b : array_like of shape (..., 3)
        L*, a*, b*; the leading shapes broadcast.
    lightness_weight : bool, optional
        False for the variant with SL = 1, which counts lightness differences
        the same at all lightnesses (used by ISO 19264-1 and by the 2023 draft
        of the Metamorfoze guidelines). Always name the variant beside it.

    Returns
    -------
    ndarray of the leading shape
        Differences, 0 or more.

    References
    ----------
    ISO/CIE 11664-6; computed by colour-science.
    """
    first, second = np.broadcast_arrays(
        np.asarray(lab_a, dtype=np.float64), np.asarray(lab_b, dtype=np.float64)
    )
    difference = _ciede2000(first, second)
    if lightness_weight:
        return difference
    # SL weights the lightness term alone and depends on lightness alone, so two
    # greys of the same lightnesses show that term by itself.
    grey = np.array([1.0, 0.0, 0.0])
    weighted = _ciede2000(first * grey, second * grey)
    plain = first[..., 0] - second[..., 0]
    squared: FloatArray = np.maximum(difference**2 - weighted**2 + plain**2, 0)
    return np.sqrt(squared)


def _ciede2000(lab_a: FloatArray, lab_b: FloatArray) -> FloatArray:
    return np.asarray(colour_science().difference.delta_E_CIE2000(lab_a, lab_b))


def metric_roots(xyz: ArrayLike) -> FloatArray:
    """Give, for each colour, the matrix that turns small errors in XYZ into ΔE.

    For a small error ``dxyz`` the length of ``W @ dxyz`` is the CIEDE2000
    difference it makes. Least squares on ``W @ residual`` therefore minimises
    ΔE2000 near the solution, and stays linear.

    Parameters
    ----------
    xyz : array_like of shape (N, 3)
        Reference colours, ICC D50, Y of the perfect diffuser 1. Negative values
        are taken as 0; towards black the slope of CIELAB is finite, and so is
        the result.

    Returns
    -------
    ndarray of shape (N, 3, 3)
        Of full rank everywhere.

    Raises
    ------
    ValueError
        If a value is not finite.
    """
    xyz = np.maximum(np.asarray(xyz, dtype=np.float64), 0)
    if not np.isfinite(xyz).all():
        raise ValueError("xyz must be finite")
    return _metric_roots_lab(lab_from_xyz(xyz)) @ _lab_slope(xyz)


def _metric_roots_lab(lab: FloatArray) -> FloatArray:
    """Give the upper triangular root of the local metric of CIEDE2000, (N, 3, 3)."""
    half = 0.5 * STEP * DIRECTIONS
    squares = (_ciede2000(lab[:, None] + half, lab[:, None] - half) / STEP) ** 2
    metric = np.zeros((len(lab), 3, 3))
    for i in range(3):
        metric[:, i, i] = squares[:, i]
    for k, (i, j) in enumerate([(0, 1), (0, 2), (1, 2)], start=3):
        cross = (squares[:, k] - squares[:, i] - squares[:, j]) / 2
        metric[:, i, j] = metric[:, j, i] = cross
    return np.swapaxes(np.linalg.cholesky(metric), 1, 2)


def _lab_slope(xyz: FloatArray) -> FloatArray:
    """Give the derivative of CIELAB with respect to XYZ, (N, 3, 3)."""
    ratio = xyz / np.array(D50_XYZ)
    root = np.cbrt(np.maximum(ratio, CIELAB_EPSILON))
    slope = np.where(ratio > CIELAB_EPSILON, 1 / (3 * root**2), CIELAB_KAPPA / 116)
    lab_from_f = np.array([[0.0, 116, 0], [500, -500, 0], [0, 200, -200]])
    scaled: FloatArray = lab_from_f * (slope / np.array(D50_XYZ))[:, None, :]
    return scaled
