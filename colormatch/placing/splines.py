"""Uniform cubic B-splines of one variable, evaluated for many places at once.

Basis functions as in C. de Boor, "A Practical Guide to Splines" (1978).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray

ANSWER_REACH = 14
"""Pixels either way that `picture_coefficients` looks at."""


@dataclass(frozen=True, kw_only=True)
class Knots:
    """Evenly spaced knots: ``count`` coefficients from ``start``, ``spacing`` apart."""

    start: float
    spacing: float
    count: int

    @classmethod
    def over(cls, low: float, high: float, spacing: float) -> Knots:
        """Knots at most ``spacing`` apart that cover ``low`` to ``high``."""
        pieces = max(1, int(np.ceil((high - low) / spacing)))
        return cls(start=low, spacing=(high - low) / pieces, count=pieces + 3)


def cubic_weights(places: FloatArray, knots: Knots) -> tuple[NDArray[np.intp], FloatArray]:
    """First coefficient and the four weights for each place.

    Parameters
    ----------
    places : ndarray of shape (N,)
        Beyond the knots the spline goes on straight: one that stopped would have
        a bend at the scan's rim, which a lattice of places could not follow.
    knots : Knots
        Where the coefficients sit.

    Returns
    -------
    first : ndarray of int, shape (N,)
    weights : ndarray of shape (4, N)
    """
    wanted = (places - knots.start) / knots.spacing
    u = np.clip(wanted, 0.0, knots.count - 3)
    first = np.minimum(u.astype(np.intp), knots.count - 4)
    t = u - first
    rest = 1.0 - t
    weights = np.stack(
        [
            rest * rest * rest,
            (3.0 * t - 6.0) * t * t + 4.0,
            (3.0 * rest - 6.0) * rest * rest + 4.0,
            t * t * t,
        ]
    )
    beyond = wanted - u
    if beyond.any():
        slopes = [-rest * rest, (3.0 * t - 4.0) * t, (4.0 - 3.0 * rest) * rest, t * t]
        weights += 3.0 * beyond * np.stack(slopes)
    return first, weights / 6.0


def spline_values(places: FloatArray, coefficients: FloatArray, knots: Knots) -> FloatArray:
    """Value of the spline; places (N,), coefficients (count, D), result (N, D)."""
    first, weights = cubic_weights(places, knots)
    # Column by column: whole rows of two numbers are slow to fetch and to scale.
    columns = [sum(weights[k] * column[first + k] for k in range(4)) for column in coefficients.T]
    return np.stack(columns, axis=1)


def spline_design(places: FloatArray, knots: Knots) -> FloatArray:
    """Matrix of shape (N, count) whose product with coefficients is the spline."""
    first, weights = cubic_weights(places, knots)
    design = np.zeros((len(places), knots.count))
    rows = np.arange(len(places))
    for k in range(4):
        design[rows, first + k] = weights[k]
    return design


def picture_coefficients(picture: NDArray[np.float32]) -> NDArray[np.float32]:
    """Coefficients of the cubic spline through a picture's pixels, mirrored at its rim.

    The filter's exact answer to one pixel falls by a factor of 3.7 per pixel (M. Unser,
    IEEE Signal Process. Mag. 16 (6), 22, 1999): it is cut where it is below 1e-8, which
    is several times as quick as the recursion.
    """
    import cv2

    pole = np.sqrt(3.0) - 2.0
    answer = np.sqrt(3.0) * pole ** np.abs(np.arange(-ANSWER_REACH, ANSWER_REACH + 1.0))
    border = cv2.BORDER_REFLECT_101
    filtered = cv2.sepFilter2D(picture, cv2.CV_32F, answer, answer, borderType=border)
    return np.asarray(filtered, dtype=np.float32)
