"""What a strip as read says of the scan: its resolution, and places along the strip."""

from __future__ import annotations

import numpy as np

from colormatch.model import FloatArray, Scan, StripReading

PRINT_MOTTLE = 0.003
"""Unevenness of a printed patch, share of its light (common practice, no source)."""


def mm_per_px(strip: StripReading) -> float:
    """Millimetres per scan pixel, from the strip's own size."""
    return float(1.0 / np.sqrt(abs(np.linalg.det(strip.px_from_mm[:, :2]))))


def measured_ppi(strip: StripReading) -> tuple[float, float]:
    """Pixels per inch along the scan's x and y, from the strip's millimetres."""
    mm_from_px = np.linalg.inv(strip.px_from_mm[:, :2])
    x, y = 25.4 / np.linalg.norm(mm_from_px, axis=0)
    return float(x), float(y)


def stated_or_measured_ppi(scan: Scan, strip: StripReading) -> tuple[float, float]:
    """Resolution as the file states it; without, that along the strip's length.

    Across the strip its marks lie too close together to tell it as well.
    """
    along = float(np.hypot(*strip.px_from_mm[:, 0])) * 25.4
    return scan.ppi or (along, along)


def along_from_px(strip: StripReading) -> FloatArray:
    """Coefficients of ``along = a x + b y + c``, -1 to 1 from end to end."""
    matrix = np.vstack([strip.px_from_mm, [0.0, 0.0, 1.0]])
    inverse = np.linalg.inv(matrix)
    half = strip.layout.width / 2
    row: FloatArray = inverse[0] / half
    row[2] -= 1.0
    return row


def reading_noise(strip: StripReading, patch: int) -> float:
    """Give the standard error of a patch's light, as a share of it."""
    level = max(float(strip.rgb[patch].mean()), 0.02)
    halves = float(np.abs(strip.halves[patch]).mean()) / level
    # A print's own unevenness does not average out over one patch.
    return float(np.hypot(PRINT_MOTTLE, 0.25 * halves))
