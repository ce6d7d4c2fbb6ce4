"""Light scattered from the surroundings: measured on a small picture of the scan.

White paper and a white lid light up the dark places beside them. Each place
receives, besides its own light, a small share of the mean light round it;
that mean is taken here over discs of several widths, because how far a
scanner scatters is not known beforehand. Page-reflected light of flatbeds is
described by K. Knox (US patent 5 790 281, 1998), who also corrects it from a
blurred estimate of the page.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray

REACHES_MM: tuple[float, ...] = (3.0, 10.0, 30.0, 90.0)
"""Standard deviations of the surroundings that may light up a place, mm."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Surroundings:
    """A small picture of the whole scan, to see what lies round each place.

    Attributes
    ----------
    picture : ndarray of shape (h, w, 3)
        Block means of the encoded scan, 0 to 1.
    step : float
        Scan pixels per picture pixel.
    mm_per_px : float
        Millimetres per picture pixel.
    """

    picture: FloatArray
    step: float
    mm_per_px: float

    def maps(self, linear: Callable[[FloatArray], FloatArray]) -> FloatArray:
        """Blur the linear picture once per reach: shape (reaches, h, w, 3)."""
        light = linear(self.picture).astype(np.float32)
        return np.stack([blurred(light, reach / self.mm_per_px) for reach in REACHES_MM])

    def at(self, maps: FloatArray, points: FloatArray) -> FloatArray:
        """Read maps at scan pixels (N, 2), beyond the rim as at it: shape (N, reaches, 3)."""
        last = np.array(maps.shape[1:3]) - 1
        place = np.clip((points[:, ::-1] - (self.step - 1) / 2) / self.step, 0, last)
        row, column = np.minimum(place.astype(int), np.maximum(last - 1, 0)).T
        down, right = (place - np.stack([row, column], axis=1)).T[..., None]
        below, beside = np.minimum(row + 1, last[0]), np.minimum(column + 1, last[1])
        upper = maps[:, row, column] * (1 - right) + maps[:, row, beside] * right
        lower = maps[:, below, column] * (1 - right) + maps[:, below, beside] * right
        read = (upper * (1 - down) + lower * down).astype(maps.dtype)
        return np.ascontiguousarray(np.swapaxes(read, 0, 1))


def blurred(light: FloatArray, sigma: float) -> FloatArray:
    """Gaussian mean, out to 3 sigma, of a (h, w, 3) picture; beyond its rim the rim goes on."""
    import cv2

    reach = int(3.0 * sigma + 0.5)
    weights = cv2.getGaussianKernel(2 * reach + 1, sigma, cv2.CV_64F)
    return np.asarray(
        cv2.sepFilter2D(light, -1, weights, weights, borderType=cv2.BORDER_REPLICATE), light.dtype
    )


def darkest_allowed(
    light: FloatArray, maps: FloatArray, *, floor: float, shares: FloatArray
) -> FloatArray:
    """How far each place would fall below ``floor`` once ``shares`` are removed.

    Parameters
    ----------
    light : ndarray of shape (P, 3)
        Linear light of places in the picture.
    maps : ndarray of shape (P, reaches, 3)
        Light round them.
    floor : float
        The least light any real surface sends, linear, white paper about 1.
    shares : ndarray of shape (reaches,)
        Share of each reach.

    Returns
    -------
    ndarray of shape (P, 3)
        Zero where enough is left, else the missing light.
    """
    left = light - np.einsum("k,pkc->pc", shares, maps)
    missing: FloatArray = np.clip(floor - left, 0.0, None)
    return missing
