"""Colours that an RGB space cannot hold: found, and brought inside."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from colormatch.colour.transfer import as_floating
from colormatch.model import FloatArray

TOLERANCE = 0.5 / 65535
"""Linear light by which a channel may leave 0 to 1 and still count as inside.

Half a 16-bit step: below it rounding alone decides.
"""


def out_of_gamut(linear_rgb: ArrayLike, tolerance: float = TOLERANCE) -> NDArray[np.bool_]:
    """Tell which colours the space cannot hold.

    Parameters
    ----------
    linear_rgb : array_like of shape (..., 3)
        Linear light in the space of the picture.
    tolerance : float, optional
        Linear light that a channel may lie outside 0 to 1.

    Returns
    -------
    ndarray of bool, of the leading shape
        True where any channel lies outside; NaN counts as outside.
    """
    rgb = np.asarray(linear_rgb)
    inside = (rgb >= -tolerance) & (rgb <= 1 + tolerance)
    # Five times as fast as inside.all(axis=-1): the axis is only three long.
    mask: NDArray[np.bool_] = ~(inside[..., 0] & inside[..., 1] & inside[..., 2])
    return mask


def clip_to_gamut(linear_rgb: ArrayLike, *, out: FloatArray | None = None) -> FloatArray:
    """Bring colours into the space: each channel is clipped to 0 to 1 by itself.

    Colours inside stay exactly as they are. The rule was chosen by measuring
    ΔE2000 (mean / P95 / max) between a colour and its clipped form
    (``tests/benchmarks/gamut_rules.py``):

    ==============================  ==================  ===================
    colours outside the space       each channel        a quarter of the way
                                    by itself           to grey, then so
    ==============================  ==================  ===================
    opRGB cube, 17 steps, in sRGB   4.41 / 9.7 / 10.7   4.20 / 9.2 / 10.0
    CIE 224 samples in sRGB         2.23 / 3.1 / 3.2    2.17 / 3.1 / 3.2
    the same, 1.3 times as light    4.36 / 9.4 / 10.4   4.60 / 10.0 / 10.0
    the same, 1.3 times, in opRGB   3.28 / 7.5 / 7.6    3.59 / 8.1 / 8.2
    ==============================  ==================  ===================

    Going all the way to the grey of equal luminance costs 5.01 / 11.4 / 13.3 on
    the cube and 8.18 / 19.5 / 20.3 on the lightened samples. A partial pull wins
    by a twentieth on saturated colours and loses as much on light ones, so the
    rule that needs nothing but the pixel is kept.

    Parameters
    ----------
    linear_rgb : array_like of shape (..., 3)
        Linear light in the space of the picture.
    out : ndarray, optional
        Where to put the result; may be the input itself.

    Returns
    -------
    ndarray of the same shape
        In [0, 1]; float32 stays float32.
    """
    return np.clip(as_floating(linear_rgb), 0, 1, out=out)
