"""Textured pictures for the inspections: strokes, weave, rims, no two alike."""

from __future__ import annotations

import numpy as np

from colormatch.model import FloatArray


def strokes(
    shape: tuple[int, int], rng: np.random.Generator, along: tuple[float, float] = (2.0, 12.0)
) -> FloatArray:
    """Linear light (H, W, 3) of long strokes in three scales; values about 0.05 to 0.8.

    ``along`` are the standard deviations of the finest, rows and columns.
    """
    import cv2

    total = np.zeros(shape, np.float32)
    for scale in (1.0, 3.0, 9.0):
        field = rng.standard_normal(shape, dtype=np.float32)
        soft = cv2.GaussianBlur(field, (0, 0), along[1] * scale, sigmaY=along[0] * scale)
        total += soft / soft.std()
    tint = 1 + 0.15 * np.sin(np.linspace(0, 9, shape[1])[None, :, None] + np.arange(3))
    return np.asarray(np.clip(0.25 * np.exp(0.35 * total)[..., None] * tint, 0.02, 0.9))


def with_margins(light: FloatArray, top: int, side: int, tone: float = 0.8) -> FloatArray:
    """Lay the lid round a picture: ``top`` rows above and below, ``side`` columns beside."""
    out = light.copy()
    out[:top], out[-top:], out[:, :side], out[:, -side:] = tone, tone, tone, tone
    return out


def encoded(light: FloatArray, rng: np.random.Generator, noise: float = 0.003) -> FloatArray:
    """Encode with a power of 2.2 after adding noise."""
    seen = light + rng.normal(0, noise, light.shape) * np.sqrt(np.maximum(light, 0))
    return np.asarray(np.clip(seen, 0, 1) ** (1 / 2.2), dtype=np.float32)
