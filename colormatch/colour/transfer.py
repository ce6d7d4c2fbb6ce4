"""The two transfer curves: encoded value to linear light, and back.

All four are odd-symmetric below zero and go on above one, so that nothing is
lost before a stage decides to clip. float32 stays float32; the rest is float64.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from colormatch.model import FloatArray
from colormatch.standards.colorimetry import (
    OPRGB_EXPONENT,
    SRGB_EXPONENT,
    SRGB_OFFSET,
    SRGB_SLOPE,
    SRGB_TOE_LIGHT,
    SRGB_TOE_VALUE,
)


def as_floating(values: ArrayLike) -> FloatArray:
    """Give ``values`` as an array: float32 if they are float32, else float64."""
    array = np.asarray(values)
    return array if array.dtype == np.float32 else array.astype(np.float64)


def decode_srgb(value: ArrayLike) -> FloatArray:
    """Turn encoded sRGB values into linear light.

    Parameters
    ----------
    value : array_like of any shape
        Encoded, 0 to 1 (values outside are carried on the same curve).

    Returns
    -------
    ndarray of the same shape
        Linear light, 0 to 1 for inputs from 0 to 1.

    References
    ----------
    IEC 61966-2-1.
    """
    value = as_floating(value)
    size = np.abs(value)
    curve = ((size + SRGB_OFFSET) / (1 + SRGB_OFFSET)) ** SRGB_EXPONENT
    return np.copysign(np.where(size <= SRGB_TOE_VALUE, size / SRGB_SLOPE, curve), value)


def encode_srgb(light: ArrayLike) -> FloatArray:
    """Turn linear light into encoded sRGB values: the inverse of `decode_srgb`.

    Parameters
    ----------
    light : array_like of any shape
        Linear light, 0 to 1 (values outside are carried on the same curve).

    Returns
    -------
    ndarray of the same shape
        Encoded value, 0 to 1 for inputs from 0 to 1.

    References
    ----------
    IEC 61966-2-1.
    """
    light = as_floating(light)
    size = np.abs(light)
    curve = (1 + SRGB_OFFSET) * size ** (1 / SRGB_EXPONENT) - SRGB_OFFSET
    return np.copysign(np.where(size <= SRGB_TOE_LIGHT, size * SRGB_SLOPE, curve), light)


def decode_oprgb(value: ArrayLike) -> FloatArray:
    """Turn encoded opRGB values into linear light.

    Parameters
    ----------
    value : array_like of any shape
        Encoded, 0 to 1 (values outside are carried on the same curve).

    Returns
    -------
    ndarray of the same shape
        Linear light, 0 to 1 for inputs from 0 to 1.

    References
    ----------
    IEC 61966-2-5: a pure power of 563/256.
    """
    value = as_floating(value)
    return np.copysign(np.abs(value) ** OPRGB_EXPONENT, value)


def encode_oprgb(light: ArrayLike) -> FloatArray:
    """Turn linear light into encoded opRGB values: the inverse of `decode_oprgb`.

    Parameters
    ----------
    light : array_like of any shape
        Linear light, 0 to 1 (values outside are carried on the same curve).

    Returns
    -------
    ndarray of the same shape
        Encoded value, 0 to 1 for inputs from 0 to 1.

    References
    ----------
    IEC 61966-2-5.
    """
    light = as_floating(light)
    return np.copysign(np.abs(light) ** (1 / OPRGB_EXPONENT), light)
