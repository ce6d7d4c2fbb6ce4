"""How well colours read in a scan are those of a reference, whatever scanner read them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import delta_e_2000, metric_roots
from colormatch.colour.spaces import lab_from_xyz, rgb_space
from colormatch.finding.agreement import linear_map
from colormatch.model import FloatArray

EXPONENTS = (1.0, 1.4, 1.8, 2.2, 2.6)
"""Tone curves tried: from linear scans to the steepest that programs write."""

FIRST_ROUNDS, ROUNDS = 10, 25
"""Of the robust fit: with the surest patches only, and in all."""

LEAST_PATCHES = 10
"""Fewer fit nearly anything: a gain, a curve and a 3x3 have ten unknowns."""

DARKEST, LIGHTEST = 0.004, 0.996
"""Encoded values beyond which a channel is clipped and says nothing."""

TYPICAL = 1.0
"""CIEDE2000 of a patch of the right sheet, about: beyond it, it counts for less."""

RIDGE = 1e-9
"""Keeps the fit of shades of one grey from having no answer."""

NOTHING = 99.0
"""Median CIEDE2000 where nothing can be said."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Likeness:
    """A fit of readings to a reference.

    Attributes
    ----------
    median : float
        CIEDE2000 of the patches after the fit; covered ones pull on it little.
    errors : ndarray of shape (N,)
        CIEDE2000 of each patch; NaN where it could not be used.
    exponent : float
        Of the tone curve that fits best, one of `EXPONENTS`.
    """

    median: float
    errors: FloatArray
    exponent: float = 2.2


class Wanted:
    """Reference colours, and what a fit needs of them again and again.

    Parameters
    ----------
    xyz : ndarray of shape (N, 3)
        D50, Y of the perfect diffuser 1; rows with NaN are left out.
    """

    def __init__(self, xyz: FloatArray) -> None:
        self.known: NDArray[np.bool_] = np.asarray(np.isfinite(xyz).all(axis=1))
        self.xyz = np.where(self.known[:, None], xyz, 0.5)
        self.lab = lab_from_xyz(self.xyz)
        space = rgb_space("srgb")
        self.encoded = space.encode(np.clip(self.xyz @ space.rgb_from_xyz.T, 0, 1))
        self.roots = metric_roots(self.xyz)

    def likeness(self, rgb: FloatArray) -> Likeness:
        """Fit a tone curve and a 3x3, which holds the gains, to the reference.

        Parameters
        ----------
        rgb : ndarray of shape (N, 3)
            Encoded readings, 0 to 1; rows with NaN are left out.
        """
        usable = np.asarray(np.isfinite(rgb).all(axis=1)) & self.known
        level = np.where(usable[:, None], rgb, 0.5)
        usable &= (level > DARKEST).all(axis=1) & (level < LIGHTEST).all(axis=1)
        errors = np.full(len(rgb), np.nan)
        if usable.sum() < LEAST_PATCHES:
            return Likeness(median=NOTHING, errors=errors)
        # Covered patches are easiest told in this direction, where each is off by itself.
        _, sure = linear_map(level[usable], self.encoded[usable], bent=True)
        light = level[usable] ** np.array(EXPONENTS)[:, None, None]
        fits = self._fitted(light, usable, sure if sure.any() else ~sure)
        medians = [float(median) for median in np.median(fits, axis=1)]
        best = int(np.argmin(medians))
        errors[usable] = fits[best]
        return Likeness(median=medians[best], errors=errors, exponent=EXPONENTS[best])

    def _fitted(
        self, light: FloatArray, usable: NDArray[np.bool_], sure: NDArray[np.bool_]
    ) -> FloatArray:
        """Fit the light (E, K, 3) of each of E curves; give CIEDE2000 of each patch, (E, K).

        To begin with only patches that are ``sure`` count, then all as they agree.
        """
        roots, xyz = self.roots[usable], self.xyz[usable]
        design = np.einsum("nij,enk->enijk", roots, light).reshape(*light.shape, 9)
        wanted = np.einsum("nij,nj->ni", roots, xyz)
        weights: FloatArray = np.tile(sure.astype(np.float64), (len(light), 1))
        for number in range(ROUNDS):
            weighed = design * weights[..., None, None]
            normal = np.einsum("enia,enib->eab", weighed, design, optimize=True)
            right = np.einsum("enia,ni->ea", weighed, wanted)
            ridge = RIDGE * np.trace(normal, axis1=1, axis2=2)[:, None, None] * np.eye(9)
            solution = np.linalg.solve(normal + ridge, right[..., None])
            left = (design @ solution[:, None])[..., 0] - wanted
            size = np.linalg.norm(left, axis=2)
            weights = sure / np.maximum(size, TYPICAL) if number < FIRST_ROUNDS else _weights(size)
        matrix = solution.reshape(-1, 3, 3)
        found = np.maximum(light @ np.swapaxes(matrix, 1, 2), 0.0)
        return delta_e_2000(lab_from_xyz(found), self.lab[usable])


def _weights(size: FloatArray) -> FloatArray:
    """Weigh errors (E, K) so that what lies far off loses all its say (Cauchy's weights).

    The metric of a grey makes a scrap that covers it look farther off than it is.
    """
    scale = np.maximum(1.5 * TYPICAL, 0.7 * np.median(size, axis=1, keepdims=True))
    return np.asarray(1 / (1 + (size / scale) ** 2))
