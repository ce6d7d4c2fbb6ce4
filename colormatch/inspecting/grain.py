"""Noise, from the strip's neutral patches: an upper bound, as print and paper have grain too."""

from __future__ import annotations

import numpy as np

from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray

LIMIT = 2.0
"""Standard deviation of L*, where FADGI's (2016, 2023) 3-star level ends."""
WEIGHTS = np.array([0.23, 0.70, 0.07])
"""Share of red, green and blue in luminance, roughly those of any RGB (sRGB: 0.21, 0.72, 0.07)."""
MID_GREY = 50.0
"""L* at which noise is stated."""
QUIETER = 0.25
"""Quantile over the patches: tints are printed as dots, which noise is not to blame for."""


def brightness(values: FloatArray) -> FloatArray:
    """Give the mean of the channels of values (h, w, 3); many times as fast as `numpy.mean`."""
    result: FloatArray = values[..., 0] + values[..., 1]
    result += values[..., 2]
    result /= np.float32(3)
    return result


def noise(rgb: FloatArray, spread: FloatArray, power: float) -> Noticed | None:
    """Measure noise in plain patches.

    Light comes in photons, so that noise grows with the square root of light;
    each patch's is brought to mid grey by that rule, and a low quantile taken.

    Parameters
    ----------
    rgb : ndarray of shape (N, 3)
        Neutral patches, encoded, 0 to 1.
    spread : ndarray of shape (N, 3)
        Robust standard deviation of their pixels, same unit.
    power : float
        Of the scan's tone curve.

    Returns
    -------
    Noticed or None
        Standard deviation of L* at mid grey; None without patches.
    """
    if not len(rgb):
        return None
    level = np.maximum(rgb, 0.02)
    light = level**power
    each = power * level ** (power - 1) * spread
    luminance = light @ WEIGHTS
    # The channels have noise of their own: variances add.
    sigma = np.sqrt((each**2) @ WEIGHTS**2)
    per_root = float(np.quantile(sigma / np.sqrt(luminance), QUIETER))
    grey = ((MID_GREY + 16) / 116) ** 3
    slope = 116 / 3 * grey ** (-2 / 3)
    return Noticed(measure=slope * per_root * grey**0.5, limit=LIMIT)
