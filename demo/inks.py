"""A printed sheet: four invented inks on matt paper, and the driver that mixes them.

The halftone follows Yule and Nielsen's modification of Neugebauer's equations
(J. A. C. Yule, W. J. Nielsen, TAGA Proceedings 1951; H. E. J. Neugebauer 1937)
with Demichel's area coverages.
"""

from __future__ import annotations

from functools import cache
from itertools import product

import numpy as np

from colormatch.model import FloatArray

from .spectra import GRID, peak, rise, xyz_from_spectra

YULE_NIELSEN_N = 2.0
"""Spread of light in the paper; 1 is none, 2 is full diffusion."""

GREY_COMPONENT = 0.75
"""How much of the common grey of cyan, magenta and yellow is printed as black."""


def paper() -> FloatArray:
    """Reflectance (36,) of matt paper without brightener."""
    return 0.925 - 0.05 * rise(-GRID, -430, 60) - 0.02 * rise(-GRID, -560, 160)


def ink_densities() -> FloatArray:
    """Density (4, 36) of a full layer of cyan, magenta, yellow and black."""
    cyan = 1.25 * peak(GRID, 632, 130) + 0.30 * peak(GRID, 560, 110) + 0.10 * peak(GRID, 400, 60)
    magenta = 1.15 * peak(GRID, 548, 78) + 0.55 * peak(GRID, 508, 70) + 0.28 * peak(GRID, 410, 90)
    yellow = 1.15 * rise(-GRID, -486, 42) + 0.03
    black = 1.45 - 0.10 * rise(GRID, 640, 160)
    return np.stack([cyan + 0.02, magenta + 0.02, yellow, black])


@cache
def _primaries() -> FloatArray:
    """Reflectance (16, 36) of every overprint, with the sheen of a matt sheet."""
    layers = np.array(list(product((0.0, 1.0), repeat=4)))
    # Ink on ink does not add its whole density: trapping.
    trapping = 1.0 - 0.07 * np.clip(layers.sum(axis=1, keepdims=True) - 1, 0, None)
    density = layers * trapping @ ink_densities()
    return np.asarray(0.012 + (paper() - 0.012) * 10.0**-density)


def print_spectra(coverage: FloatArray) -> FloatArray:
    """Reflectance (..., 36) of halftones.

    Parameters
    ----------
    coverage : ndarray of shape (..., 4)
        Effective area covered by cyan, magenta, yellow and black, 0 to 1.
    """
    layers = np.array(list(product((0.0, 1.0), repeat=4)))
    area = np.where(layers == 1, coverage[..., None, :], 1 - coverage[..., None, :])
    shares = area.prod(axis=-1)
    return np.asarray((shares @ _primaries() ** (1 / YULE_NIELSEN_N)) ** YULE_NIELSEN_N)


def with_black(chromatic: FloatArray) -> FloatArray:
    """Four coverages (..., 4) from three (..., 3): common grey goes to black."""
    grey = chromatic.min(axis=-1, keepdims=True)
    black = np.clip(grey - 0.25, 0, None) / 0.75
    left = chromatic - GREY_COMPONENT * black * grey
    return np.concatenate([left, black**1.3], axis=-1)


def coverage_for_xyz(xyz: FloatArray, *, steps: int = 30) -> FloatArray:
    """Coverages (N, 4) whose print comes nearest to ``xyz`` (N, 3), D50.

    Damped Gauss-Newton on the cube roots of XYZ; colours outside the inks'
    gamut end on its surface.
    """
    goal = np.cbrt(xyz)
    ink = np.clip(1 - goal, 0.02, 0.98)
    damping = np.eye(3) * 1e-4
    for _ in range(steps):
        missing = goal - _roots(ink)
        slopes = np.stack([_roots(ink + 1e-4 * axis) for axis in np.eye(3)], axis=-1)
        slopes = (slopes - _roots(ink)[..., None]) / 1e-4
        normal = np.swapaxes(slopes, -1, -2) @ slopes + damping
        right = np.swapaxes(slopes, -1, -2) @ missing[..., None]
        move = np.linalg.solve(normal, right)[..., 0]
        ink = np.clip(ink + np.clip(move, -0.2, 0.2), 0.0, 1.0)
    return with_black(ink)


def _roots(chromatic: FloatArray) -> FloatArray:
    return np.cbrt(xyz_from_spectra(print_spectra(with_black(chromatic))))


def driver(xyz: FloatArray, *, drift: float = 1.0) -> FloatArray:
    """Coverages (N, 4) a printer's driver puts down when asked for ``xyz``.

    It maps the asked white to paper and the asked black to the darkest ink,
    and knows its printer as it once was: since then the inks have ``drift``
    times a typical change of spread, so that the sheet misses its nominal
    colours by several ΔE, as home prints do.
    """
    white = xyz_from_spectra(paper())
    black = xyz_from_spectra(print_spectra(np.ones(4)))
    asked = black + xyz / np.array([0.9642, 1.0, 0.8249]) * (white - black)
    coverage = coverage_for_xyz(asked)
    gain = drift * np.array([0.035, -0.03, 0.05, 0.03])
    return np.clip(coverage + gain * 4 * coverage * (1 - coverage), 0, 1)
