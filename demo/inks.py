"""A printed sheet: four invented inks on matt paper, and the driver that mixes them.

The halftone follows Yule and Nielsen's modification of Neugebauer's equations
(J. A. C. Yule, W. J. Nielsen, TAGA Proceedings 1951; H. E. J. Neugebauer 1937)
with Demichel's area coverages.
"""

from __future__ import annotations

from dataclasses import dataclass
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


@dataclass(frozen=True, kw_only=True)
class Printer:
    """What differs from printer to printer.

    Attributes
    ----------
    strength : tuple of float
        Thickness of the layers of cyan, magenta, yellow and black, 1 being usual.
    shift : tuple of float
        Shift of the bands of cyan, magenta and yellow, nm: another kind of ink.
    grey_component : float
        How much of the common grey of cyan, magenta and yellow is printed as black.
    """

    strength: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 1.0)
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)
    grey_component: float = GREY_COMPONENT


HOME = Printer()


def ink_densities(printer: Printer = HOME) -> FloatArray:
    """Density (4, 36) of a full layer of cyan, magenta, yellow and black."""
    c, m, y = (GRID - shift for shift in printer.shift)
    cyan = 1.25 * peak(c, 632, 130) + 0.30 * peak(c, 560, 110) + 0.10 * peak(c, 400, 60)
    magenta = 1.15 * peak(m, 548, 78) + 0.55 * peak(m, 508, 70) + 0.28 * peak(m, 410, 90)
    yellow = 1.15 * rise(-y, -486, 42) + 0.03
    black = 1.45 - 0.10 * rise(GRID, 640, 160)
    layers = np.stack([cyan + 0.02, magenta + 0.02, yellow, black])
    return np.asarray(layers * np.array(printer.strength)[:, None])


@cache
def _primaries(printer: Printer) -> FloatArray:
    """Reflectance (16, 36) of every overprint, with the sheen of a matt sheet."""
    layers = np.array(list(product((0.0, 1.0), repeat=4)))
    # Ink on ink does not add its whole density: trapping.
    trapping = 1.0 - 0.07 * np.clip(layers.sum(axis=1, keepdims=True) - 1, 0, None)
    density = layers * trapping @ ink_densities(printer)
    return np.asarray(0.012 + (paper() - 0.012) * 10.0**-density)


def print_spectra(coverage: FloatArray, printer: Printer = HOME) -> FloatArray:
    """Reflectance (..., 36) of halftones.

    Parameters
    ----------
    coverage : ndarray of shape (..., 4)
        Effective area covered by cyan, magenta, yellow and black, 0 to 1.
    printer : Printer
        Whose inks.
    """
    layers = np.array(list(product((0.0, 1.0), repeat=4)))
    area = np.where(layers == 1, coverage[..., None, :], 1 - coverage[..., None, :])
    shares = area.prod(axis=-1)
    return np.asarray((shares @ _primaries(printer) ** (1 / YULE_NIELSEN_N)) ** YULE_NIELSEN_N)


def with_black(chromatic: FloatArray, grey_component: float = GREY_COMPONENT) -> FloatArray:
    """Four coverages (..., 4) from three (..., 3): common grey goes to black."""
    grey = chromatic.min(axis=-1, keepdims=True)
    black = np.clip(grey - 0.25, 0, None) / 0.75
    left = chromatic - grey_component * black * grey
    return np.concatenate([left, black**1.3], axis=-1)


def coverage_for_xyz(xyz: FloatArray, printer: Printer = HOME, *, steps: int = 30) -> FloatArray:
    """Coverages (N, 4) whose print comes nearest to ``xyz`` (N, 3), D50.

    Damped Gauss-Newton on the cube roots of XYZ; colours outside the inks'
    gamut end on its surface.
    """
    goal = np.cbrt(xyz)
    ink = np.clip(1 - goal, 0.02, 0.98)
    damping = np.eye(3) * 1e-4
    for _ in range(steps):
        here = _roots(ink, printer)
        missing = goal - here
        slopes = np.stack([_roots(ink + 1e-4 * axis, printer) for axis in np.eye(3)], axis=-1)
        slopes = (slopes - here[..., None]) / 1e-4
        normal = np.swapaxes(slopes, -1, -2) @ slopes + damping
        right = np.swapaxes(slopes, -1, -2) @ missing[..., None]
        move = np.linalg.solve(normal, right)[..., 0]
        ink = np.clip(ink + np.clip(move, -0.2, 0.2), 0.0, 1.0)
    return with_black(ink, printer.grey_component)


def _roots(chromatic: FloatArray, printer: Printer) -> FloatArray:
    inks = with_black(chromatic, printer.grey_component)
    return np.cbrt(xyz_from_spectra(print_spectra(inks, printer)))


def driver(xyz: FloatArray, printer: Printer = HOME, *, drift: float = 1.0) -> FloatArray:
    """Coverages (N, 4) a printer's driver puts down when asked for ``xyz``.

    It maps the asked white to paper and the asked black to the darkest ink,
    and knows its printer as it once was: since then the inks have ``drift``
    times a typical change of spread, so that the sheet misses its nominal
    colours by several ΔE, as home prints do.
    """
    white = xyz_from_spectra(paper())
    black = xyz_from_spectra(print_spectra(np.ones(4), printer))
    asked = black + xyz / np.array([0.9642, 1.0, 0.8249]) * (white - black)
    coverage = coverage_for_xyz(asked, printer)
    gain = drift * np.array([0.035, -0.03, 0.05, 0.03])
    return np.clip(coverage + gain * 4 * coverage * (1 - coverage), 0, 1)
