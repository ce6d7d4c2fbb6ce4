"""Values carried over from a known sheet to another in the same scan.

The matrix that turns a scanner's light into colour cannot tell all that inks do: what
it misses on the known sheet it misses in the same way on other prints of the same
kind of ink. So the residuals of the known patches are interpolated between their
colours (kriging: a Gaussian process with one length and one share of noise, both
chosen by leaving patches out: C. Rasmussen, C. Williams, "Gaussian Processes for
Machine Learning", 2006, sections 2.2 and 5.4.2), and only as far as patches left out
gain by it. A painting is never corrected in this way: paint is not that ink.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab
from colormatch.model import FloatArray

LENGTHS = (0.15, 0.3, 0.6, 1.2)
"""Of the cube root of light, 0 for none and 1 for white: how far colours are alike."""

NOISES = (0.03, 0.1, 0.3, 1.0, 3.0)
"""Variance of what patches have of their own, over the variance of what they share."""

OTHER_INK = 1.0
"""By how much a matrix errs more on another kind of ink than on known patches left out:
0.4 to 0.7 on other inks, 0.9 on the same, on the spectral model of the demo
(tests/benchmarks/bench_transfer.py)."""

GAIN = 0.95
"""Share of the left-out error that must be left, or less, for the residuals to be used."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Carried:
    """Colours of patches as a scan and a known sheet beside them tell.

    Attributes
    ----------
    xyz : ndarray of shape (N, 3)
        D50, Y of the perfect diffuser 1.
    sigma : ndarray of shape (N,)
        ΔE2000 to be expected from the fit and the interpolation.
    left_out : ndarray of shape (K,)
        ΔE2000 of the known patches, each left out.
    interpolated : bool
        Whether residuals were used beyond the matrix.
    """

    xyz: FloatArray
    sigma: FloatArray
    left_out: FloatArray
    interpolated: bool


def carry_over(
    light: FloatArray,
    known_light: FloatArray,
    known_xyz: FloatArray,
    xyz_from_rgb: FloatArray,
    left_out: FloatArray,
    *,
    same_ink: bool = True,
) -> Carried:
    """Give the colours of patches from those of known patches in the same scan.

    Parameters
    ----------
    light : ndarray of shape (N, 3)
        Linear light of the patches wanted, scattered light and fall-off removed.
    known_light, known_xyz : ndarray of shape (K, 3)
        The same of the known patches, and their colours.
    xyz_from_rgb : ndarray of shape (3, 3)
        Matrix fitted to them.
    left_out : ndarray of shape (K,)
        ΔE2000 of the known patches, each left out of that fit.
    same_ink : bool
        Whether residuals may be used at all.
    """
    wanted, seen = (_lab(part @ xyz_from_rgb.T) for part in (light, known_light))
    missed = lab_from_xyz(known_xyz) - seen
    # Differences of Lab weigh as the eye does only after scaling to ΔE2000.
    weight = delta_e_2000(seen + missed, seen) / np.maximum(np.linalg.norm(missed, axis=1), 1e-9)
    places = np.cbrt(np.maximum(known_light, 0.0))
    best = min(
        (_Interpolation(places, missed, weight, s, n) for s in LENGTHS for n in NOISES),
        key=lambda one: one.error,
    )
    used = same_ink and bool(best.error < GAIN * float(np.mean(left_out)))
    at = np.cbrt(np.maximum(light, 0.0))
    sigma = best.sigma(at)
    if not same_ink:
        sigma = OTHER_INK * sigma
    if not used:
        # Where no known colour is near, the matrix too is less certain.
        sigma = sigma * float(np.mean(left_out)) / best.error
        return Carried(xyz=xyz_from_lab(wanted), sigma=sigma, left_out=left_out, interpolated=False)
    return Carried(
        xyz=xyz_from_lab(wanted + best.value(at)),
        sigma=sigma,
        left_out=best.left_out,
        interpolated=True,
    )


def _lab(xyz: FloatArray) -> FloatArray:
    return lab_from_xyz(np.maximum(xyz, 0.0))


class _Interpolation:
    """Residuals of Lab over the cube roots of light."""

    def __init__(
        self,
        places: FloatArray,
        missed: FloatArray,
        weight: FloatArray,
        length: float,
        noise: float,
    ) -> None:
        self.places, self.length = places, length
        self.noise = noise
        inverse = np.linalg.inv(self._alike(places) + noise * np.eye(len(places)))
        self.inverse, self.shares = inverse, inverse @ missed
        own = np.diagonal(inverse)
        self.left_out = np.linalg.norm(self.shares / own[:, None], axis=1) * weight
        self.error = float(self.left_out.mean())
        # How much larger or smaller the errors are than their share of the variance says.
        self.scale = float(np.mean(self.left_out * np.sqrt(own)))

    def _alike(self, places: FloatArray) -> FloatArray:
        apart = np.linalg.norm(places[:, None] - self.places[None], axis=-1)
        alike: FloatArray = np.exp(-0.5 * (apart / self.length) ** 2)
        return alike

    def value(self, places: FloatArray) -> FloatArray:
        """Give the residual of Lab foretold at places, (N, 3)."""
        foretold: FloatArray = self._alike(places) @ self.shares
        return foretold

    def sigma(self, places: FloatArray) -> FloatArray:
        """Give the ΔE2000 to be expected at places, (N,): more where no known colour is near."""
        alike = self._alike(places)
        left = 1 + self.noise - np.einsum("nk,kl,nl->n", alike, self.inverse, alike)
        expected: FloatArray = self.scale * np.sqrt(np.maximum(left, 0.0))
        return expected
