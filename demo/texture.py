"""Random and woven textures: the grain of paint, paper and canvas."""

from __future__ import annotations

import numpy as np

from colormatch.model import FloatArray


def fractal(
    shape: tuple[int, int],
    rng: np.random.Generator,
    *,
    coarsest: float,
    finest: float = 1.0,
    slope: float = 1.0,
) -> FloatArray:
    """Noise with a 1/f amplitude spectrum, float32, mean 0 and deviation about 1.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns.
    rng : numpy.random.Generator
        Source of randomness.
    coarsest, finest : float
        Size in pixels of the largest and of the smallest grains.
    slope : float
        Amplitude grows with grain size to this power: 0 white, 1 as in nature.
    """
    import cv2

    total, power, size = np.zeros(shape, np.float32), 0.0, coarsest
    while size >= finest:
        grains = tuple(int(np.ceil(side / size)) + 3 for side in shape)
        noise = rng.standard_normal(grains, dtype=np.float32)
        share = size ** (slope / 2)
        wide = cv2.resize(noise, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
        total += np.float32(share) * wide
        power += share**2
        size /= 2
    return total / np.float32(np.sqrt(power) * 0.75)


def weave(shape: tuple[int, int], rng: np.random.Generator, *, pitch: float) -> FloatArray:
    """Height of a plain canvas weave, float32, about -1 to 1.

    ``pitch`` is the distance between threads in pixels; threads wander and
    vary in thickness.
    """
    rows, columns = np.arange(shape[0]), np.arange(shape[1])
    wander = 0.7 * fractal(shape, rng, coarsest=40 * pitch, finest=4 * pitch)
    along = (np.pi / pitch * columns)[None, :] + wander
    across = (np.pi / pitch * rows)[:, None] + wander[::-1]
    thick = 1 + 0.25 * rng.standard_normal(shape[1]).astype(np.float32)[None, :] * 0.5
    return np.asarray(np.sin(along) * np.sin(across) * thick, np.float32)
