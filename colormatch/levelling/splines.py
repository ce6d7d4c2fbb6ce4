"""Cubic B-splines on even knots, and what is believed of their coefficients.

The smooth fields are Gaussian Markov random fields whose precision is that of
(kappa^2 - Laplacian): F. Lindgren, H. Rue, J. Lindström, "An explicit link
between Gaussian fields and Gaussian Markov random fields", J. R. Stat. Soc. B
73(4), 2011. Away from the data such a field returns to zero within its reach.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray


@dataclass(frozen=True, kw_only=True)
class Spline:
    """``count`` coefficients on knots ``spacing`` apart from ``start``."""

    start: float
    spacing: float
    count: int

    @classmethod
    def over(cls, low: float, high: float, *, spacing: float) -> Spline:
        """Knots at most ``spacing`` apart from ``low`` to ``high``."""
        pieces = max(1, int(np.ceil((high - low) / spacing - 1e-9)))
        return cls(start=low, spacing=max(high - low, 1e-6) / pieces, count=pieces + 3)

    def design(self, places: FloatArray) -> FloatArray:
        """Weights (N, count) of the coefficients; beyond the knots the end's hold."""
        from scipy.interpolate import BSpline

        knots = self.start + self.spacing * np.arange(-3, self.count + 1)
        inside = np.clip(places, knots[3], knots[-4])
        result: FloatArray = BSpline.design_matrix(inside, knots, 3).toarray()
        return result


def differences_prior(count: int, order: int, sigma: float) -> FloatArray:
    """Precision (count, count) that holds differences of an order near zero."""
    rows = np.diff(np.eye(count), order, axis=0)
    return np.asarray(rows.T @ rows / sigma**2)


def mean_prior(count: int, sigma: float) -> FloatArray:
    """Precision that holds the mean of ``count`` coefficients near zero."""
    return np.full((count, count), 1.0 / (count * sigma) ** 2)


def field_prior(
    shape: tuple[int, int], spacings: tuple[float, float], *, reach: float
) -> FloatArray:
    """Precision of a field of unit amplitude on a grid of coefficients.

    Parameters
    ----------
    shape : tuple of int
        Coefficients along two axes.
    spacings : tuple of float
        Their distances, mm.
    reach : float
        Distance at which the field has forgotten itself (correlation 0.14), mm.

    Returns
    -------
    ndarray of shape (n, n)
        n the product of ``shape``; the mean variance of its inverse is 1.
    """
    one, two = np.eye(shape[0]), np.eye(shape[1])
    down, across = (
        differences_prior(n, 1, step) if n > 1 else np.zeros((1, 1))
        for n, step in zip(shape, spacings, strict=True)
    )
    down = down + (8.0 / reach**2) * one
    # The square of down x 1 + 1 x across, and the mean of its inverse's diagonal.
    squared = np.kron(down @ down, two) + 2.0 * np.kron(down, across)
    squared += np.kron(one, across @ across)
    values = np.add.outer(np.linalg.eigvalsh(down), np.linalg.eigvalsh(across))
    result: FloatArray = squared * np.mean(values**-2.0)
    return result
