"""Where pixels lie between the centres of a coarse grid's squares."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def between_centres(
    start: int, length: int, step: float, count: int
) -> tuple[NDArray[np.intp], NDArray[np.float32]]:
    """Give the grid place before each pixel, and how far beyond it the pixel lies.

    Parameters
    ----------
    start, length : int
        The first pixel along one axis, and how many.
    step : float
        Pixels per square of the grid; the first square begins with pixel 0.
    count : int
        Squares along that axis.

    Returns
    -------
    low : ndarray of int, shape (length,)
        At most the last but one square, if there are two.
    share : ndarray of float32, shape (length,)
        0 at the centre of that square, 1 at the next one's; beyond the outermost
        centres as at these.
    """
    at = (np.arange(start, start + length) - (step - 1) / 2) / step
    at = np.clip(at, 0, count - 1)
    low = np.minimum(at.astype(np.intp), max(count - 2, 0))
    return low, (at - low).astype(np.float32)
