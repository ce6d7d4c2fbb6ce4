"""How much of each pixel a disc or a box covers, by exact area."""

from __future__ import annotations

import numpy as np

from colormatch.model import FloatArray


def box_coverage(low: float, high: float, edges: FloatArray) -> FloatArray:
    """Give the share of each pixel of one axis between ``low`` and ``high``.

    Parameters
    ----------
    low, high : float
        Ends of the box.
    edges : ndarray of shape (N + 1,)
        Rising borders of the pixels, same unit.

    Returns
    -------
    ndarray of shape (N,)
        0 to 1; a box covers the product of its two axes' shares.
    """
    inside = np.diff(np.clip(edges, low, high))
    share: FloatArray = inside / np.diff(edges)
    return share


def disc_coverage(
    centre: tuple[float, float], radius: float, x_edges: FloatArray, y_edges: FloatArray
) -> FloatArray:
    """Give the share of each pixel that a disc covers.

    Parameters
    ----------
    centre : tuple of float
        x and y.
    radius : float
        Above 0.
    x_edges, y_edges : ndarray of shape (W + 1,) and (H + 1,)
        Rising borders of the pixels, same unit.

    Returns
    -------
    ndarray of shape (H, W)
        0 to 1, exact but for rounding.
    """
    x = (x_edges - centre[0]) / radius
    y = (y_edges - centre[1]) / radius
    corner = _area_up_to(x[None, :], y[:, None])
    area = np.diff(np.diff(corner, axis=0), axis=1)
    pixel = np.diff(y)[:, None] * np.diff(x)[None, :]
    share: FloatArray = np.clip(area / pixel, 0, 1)
    return share


def _area_up_to(x: FloatArray, y: FloatArray) -> FloatArray:
    """Give the area of the unit disc left of ``x`` and above ``y``, which broadcast.

    At each abscissa the disc reaches from -h to h; between the two abscissas where
    h = abs(y) the line y cuts it, outside it is whole for y > 0 and empty for y < 0.
    """
    x = np.clip(x, -1, 1)
    y = np.clip(y, -1, 1)
    reach = np.sqrt(1 - y * y)
    inner = np.clip(x, -reach, reach)
    cut = y * (inner + reach) + _half_area(inner) - _half_area(-reach)
    left = _half_area(np.minimum(x, -reach))
    right = _half_area(np.maximum(x, reach)) - _half_area(reach)
    area: FloatArray = cut + np.where(y > 0, 2 * (left + right), 0)
    return area


def _half_area(x: FloatArray) -> FloatArray:
    """Give the area of the upper half of the unit disc left of ``x``."""
    area: FloatArray = (x * np.sqrt(1 - x * x) + np.arcsin(x)) / 2 + np.pi / 4
    return area
