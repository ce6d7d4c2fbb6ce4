"""How far off a patch may be with the best of all matrices, for what its ink does to light.

Three channels cannot tell all that an ink does to a spectrum. Where there is no ink there
is nothing to miss: paper, like white paint and grey, sends back all wavelengths alike. So a
matrix for paint must be right on the paper before it is right on ink (white preserving:
G. D. Finlayson, M. S. Drew, "Constrained least-squares regression in color spaces",
Journal of Electronic Imaging 6(4), 1997); least squares that trust all patches alike
turn greys and whites of the painting by 1 to 2 ΔE2000 to please its dark inks.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import metric_roots
from colormatch.model import FloatArray

MISSED = 0.02
"""Share of X, Y and Z, each by itself, that is missed per share of light that ink takes."""
ALWAYS = 0.45
"""What is missed besides, CIEDE2000. Only the ratio of the two matters, for each job's own
residuals set their scale, 1 being the typical patch. ``python -m tests.benchmarks.bench_misses``
finds 0.37 to 0.41 likeliest, a first such simulation with other guesses of inks and filters
0.46; errors on paint hardly change between 0.3 and 0.5."""


def miss_covariance(xyz: FloatArray, neutral: NDArray[np.bool_], roots: FloatArray) -> FloatArray:
    """Give what a matrix fit for paint is likely to miss on printed patches, 1 on a typical one.

    Parameters
    ----------
    xyz : ndarray of shape (N, 3)
        Reference colours, D50, Y of the perfect diffuser 1.
    neutral : ndarray of bool, shape (N,)
        True for greys and paper; the lightest of them is the paper, or where there is
        none the lightest patch.
    roots : ndarray of shape (N, 3, 3)
        `metric_roots` of ``xyz``.

    Returns
    -------
    ndarray of shape (N, 3, 3)
        Covariance of ``roots`` times the error of XYZ, in squares of CIEDE2000.
    """
    grey = xyz[neutral] if neutral.any() else xyz
    paper = grey[np.argmax(grey[:, 1])]
    taken = 1.0 - np.clip(xyz / paper, 0.0, 1.0).mean(axis=1, keepdims=True)
    missed = roots * (MISSED * taken * xyz)[:, None, :]
    result: FloatArray = missed @ np.swapaxes(missed, 1, 2) + ALWAYS**2 * np.eye(3)
    return result


def miss_size(xyz: FloatArray, neutral: NDArray[np.bool_]) -> FloatArray:
    """Give one sigma per component of what is missed, CIEDE2000, shape (N,)."""
    covariance = miss_covariance(xyz, neutral, metric_roots(xyz))
    result: FloatArray = np.sqrt(np.trace(covariance, axis1=1, axis2=2) / 3)
    return result


def whitening(covariance: FloatArray) -> FloatArray:
    """Give what turns errors of these covariances (N, 3, 3) into errors of unit covariance."""
    result: FloatArray = np.linalg.inv(np.linalg.cholesky(covariance))
    return result
