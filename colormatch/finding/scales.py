"""How large marks may be in the small picture."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from colormatch.model import FloatArray

Resolution = tuple[float, float] | float | None

MM_PER_INCH = 25.4

BELIEVED = (50.0, 4800.0)
"""Resolutions outside this range are slips of the program that wrote the file."""

LADDER = (100.0, 1200.0)
"""Pixels per inch tried when the file is no help."""

LADDER_RATIO = 1.12
"""Between neighbours, so that the true one is at most 6 % away."""

MOST_PIXELS = 4_000_000
"""Of the small picture. A wrong resolution can make it needlessly large, and slow."""


def reduced(overview: FloatArray, step: int) -> tuple[FloatArray, int]:
    """Make a small picture that is too large smaller, in whole blocks.

    Parameters
    ----------
    overview : ndarray of float32, shape (H, W, 3)
        Block means.
    step : int
        Scan pixels per pixel of it.

    Returns
    -------
    overview : ndarray of float32
        At most `MOST_PIXELS` large, its blocks as exact as before.
    step : int
        Scan pixels per pixel of that.
    """
    import cv2

    height, width = overview.shape[:2]
    factor = int(np.ceil(np.sqrt(height * width / MOST_PIXELS)))
    if factor <= 1:
        return overview, step
    rows, columns = height // factor, width // factor
    cut = overview[: rows * factor, : columns * factor]
    small = cv2.resize(cut, (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32), step * factor


def likely_scales(ppi: Resolution, step: int) -> Iterator[list[float]]:
    """Give pixels of the small picture per millimetre, likeliest first.

    Parameters
    ----------
    ppi : float, pair of float, or None
        As the file states it.
    step : int
        Scan pixels per pixel of the small picture.

    Yields
    ------
    list of float
        First the one the file states, if it can be believed, then all others.
    """
    stated = stated_ppi(ppi)
    if stated is not None:
        yield [stated / MM_PER_INCH / step]
    rungs = int(np.ceil(np.log(LADDER[1] / LADDER[0]) / np.log(LADDER_RATIO))) + 1
    ladder = LADDER[0] * LADDER_RATIO ** np.arange(rungs)
    yield [float(rung) / MM_PER_INCH / step for rung in ladder]


def stated_ppi(ppi: Resolution) -> float | None:
    """Give the resolution as one number, None if it is absent or cannot be."""
    if ppi is None:
        return None
    mean = float(np.sqrt(np.prod(np.broadcast_to(np.asarray(ppi, dtype=np.float64), 2))))
    return mean if BELIEVED[0] <= mean <= BELIEVED[1] else None
