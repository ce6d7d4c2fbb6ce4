"""What befalls a printed strip before it is scanned: covered, stained, curled."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray

Picture = NDArray[np.float32]

VIEW_DISTANCE = 300.0
"""Length of the folded light path in front of the lens, mm (common practice, no source)."""

DARKER_PER_MM = 0.04
"""Light lost per mm above the glass (common practice, no source)."""

SOFTER_PER_MM = 0.08
"""Blur per mm above the glass, mm, standard deviation (common practice, no source)."""


def covered(light: Picture, share: float, paper: FloatArray) -> Picture:
    """Lay plain paper over the right-hand ``share`` of a strip's raster (H, W, 3)."""
    if share > 0:
        first = round(light.shape[1] * (1 - share))
        light[:, first:] = np.asarray(paper, np.float32)
    return light


def stained(light: Picture, count: int, ppi: float, rng: np.random.Generator) -> Picture:
    """Put down drops and fingerprints of thin paint, 2 to 5 mm wide."""
    import cv2

    rows, columns = light.shape[:2]
    for _ in range(count):
        cover = np.zeros((rows, columns), np.uint8)
        radius = int(rng.uniform(1.0, 2.5) * ppi / 25.4)
        centre = (int(rng.integers(columns)), int(rng.integers(rows)))
        axes = (radius, int(radius * rng.uniform(0.6, 1.0)))
        cv2.ellipse(cover, centre, axes, rng.uniform(0, 180), 0, 360, 255, -1)
        share = cv2.GaussianBlur(cover, (0, 0), 0.1 * ppi / 25.4)[..., None] / np.float32(255)
        tint = rng.uniform(0.35, 0.85, 3).astype(np.float32)
        light *= 1 - share * (1 - tint)
    return light


def height_above_glass(along: FloatArray, curl: float, length: float) -> FloatArray:
    """Height in mm of a sheet whose right end curls up to ``curl`` mm, at ``along`` mm."""
    return np.asarray(curl * np.clip(along / length, 0, 1) ** 2)


def curled(light: Picture, curl: float, ppi: float) -> Picture:
    """Darken and blur a raster (H, W, 3) where its sheet leaves the glass."""
    import cv2

    if curl == 0:
        return light
    columns = light.shape[1]
    height = height_above_glass(np.arange(columns) + 0.5, curl, columns)
    share = (height / curl * 3).astype(np.float32)[None, :, None]
    result = np.zeros_like(light)
    for step in range(4):
        sigma = curl * SOFTER_PER_MM * ppi / 25.4 * step / 3
        soft = cv2.GaussianBlur(light, (0, 0), sigma) if step else light
        result += np.clip(1 - np.abs(share - step), 0, 1) * np.asarray(soft, np.float32)
    result *= (1 - DARKER_PER_MM * height).astype(np.float32)[None, :, None]
    return result


def seen_nearer_middle(
    sheet: tuple[FloatArray, FloatArray],
    glass_x: FloatArray,
    *,
    size: tuple[float, float],
    curl: float,
    turn: FloatArray,
    middle: float,
) -> tuple[FloatArray, FloatArray]:
    """Places on a curled sheet that the lens sees at given places of the glass.

    What lies ``z`` above the glass appears nearer to the middle of the lamp,
    by ``z / VIEW_DISTANCE`` of its distance from it.

    Parameters
    ----------
    sheet : tuple of ndarray, (H, W) each
        X and y on the sheet, mm, were it flat.
    glass_x : ndarray of shape (W,)
        Place along the lamp, mm.
    size : tuple of float
        Width and height of the sheet, mm.
    curl : float
        Height of its right end, mm.
    turn : ndarray of shape (2, 2)
        Turns directions on the sheet into those on the glass.
    middle : float
        Middle of the lamp, mm.
    """
    x, y = sheet
    height = height_above_glass(x, curl, size[0])
    outwards = (glass_x - middle)[None, :] * height / VIEW_DISTANCE
    return x + outwards * turn[0, 0], y + outwards * turn[0, 1]
