"""Squares cut out of a picture at any place and turn, by its cubic spline.

A cubic B-spline of four coefficients along a line is two linear interpolations, each
between two of them, and in a picture four bilinear ones (C. Sigg, M. Hadwiger, "Fast
third-order texture filtering", GPU Gems 2, 2005). OpenCV does those several times as
quickly as a general spline is evaluated, where its version does them exactly: older ones
round places to 1/32 pixel.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray

Plane = NDArray[np.float32]
SIXTH = np.float32(1.0 / 6.0)
HALF = np.float32(0.5)
ONE = np.float32(1.0)
EXACT = 1e-4
"""Error of a bilinear interpolation that still counts as none, pixels."""


def square(coefficients: Plane, middle: FloatArray, linear: FloatArray, side: int) -> Plane:
    """Values of a cubic spline on a square lattice.

    Parameters
    ----------
    coefficients : ndarray of float32, shape (H, W)
        See `splines.picture_coefficients`.
    middle : ndarray of shape (2,)
        Where the square's middle lies, pixels (x, y).
    linear : ndarray of shape (2, 2)
        From the square's pixels to the picture's.
    side : int
        Of the square.
    """
    corner = middle - linear @ np.full(2, (side - 1) / 2.0)
    if not bilinear_is_exact():
        return _generally(coefficients, corner, linear, side)
    steps = np.arange(side)
    x, y = (
        (corner[axis] + linear[axis, 0] * steps).astype(np.float32)
        + (linear[axis, 1] * steps).astype(np.float32)[:, None]
        for axis in (0, 1)
    )
    left, right, rightward = _two_places(x)
    above, below, downward = _two_places(y)
    upper = _between(coefficients, left, right, above, rightward)
    lower = _between(coefficients, left, right, below, rightward)
    lower -= upper
    lower *= downward
    upper += lower
    return upper


def _two_places(at: Plane) -> tuple[Plane, Plane, Plane]:
    """Two places whose linear interpolations make up the spline, and the second's weight."""
    first = np.floor(at)
    t = at - first
    square_t = t * t
    last = square_t * t * SIXTH
    weight = (square_t + t) * HALF + SIXTH - last - last
    rest = ONE - t
    low = first - rest * rest * rest * SIXTH / (ONE - weight)
    high = first + ONE + last / weight
    return low, high, weight


def _between(coefficients: Plane, left: Plane, right: Plane, y: Plane, weight: Plane) -> Plane:
    """Weighted mean of the coefficients at two places in a row."""
    import cv2

    one, two = (
        np.asarray(
            cv2.remap(coefficients, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101),
            dtype=np.float32,
        )
        for x in (left, right)
    )
    two -= one
    two *= weight
    one += two
    return one


def _generally(coefficients: Plane, corner: FloatArray, linear: FloatArray, side: int) -> Plane:
    """`square` by a library that evaluates splines of any order."""
    from scipy.ndimage import affine_transform

    values: Plane = affine_transform(
        coefficients,
        linear[::-1, ::-1],
        corner[::-1],
        output_shape=(side, side),
        output=np.float32,
        order=3,
        mode="mirror",
        prefilter=False,
    )
    return values


@cache
def bilinear_is_exact() -> bool:
    """Whether this version of OpenCV interpolates at the place asked for."""
    import cv2

    ramp = np.tile(np.arange(16, dtype=np.float32), (16, 1))
    place = np.linspace(4.0, 8.0, 64, dtype=np.float32).reshape(8, 8)
    found = cv2.remap(ramp, place, np.full_like(place, 7.3), cv2.INTER_LINEAR)
    return bool(np.abs(found - place).max() < EXACT)
