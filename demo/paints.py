"""Invented artists' paints, mixed by the theory of Kubelka and Munk.

Mixtures: P. Kubelka, F. Munk, Zeitschrift für technische Physik 12, 1931;
layers over a ground: P. Kubelka, JOSA 38, 1948. Reflection at the paint's own
surface: J. L. Saunderson, JOSA 32, 1942.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray

from .spectra import GRID, peak, rise


@dataclass(frozen=True, kw_only=True)
class Surface:
    """How a paint film meets the air.

    Attributes
    ----------
    outside, inside : float
        Share of light reflected on the way in and on the way out (Saunderson's
        k1 and k2); of the former only ``sheen`` reaches the sensor.
    sheen : float
        Constant reflectance added by a matt surface, 0 to 0.02.
    """

    outside: float = 0.04
    inside: float = 0.5
    sheen: float = 0.004


GOUACHE = Surface(outside=0.03, inside=0.35, sheen=0.012)
ACRYLIC = Surface(outside=0.04, inside=0.50, sheen=0.006)
VARNISHED_OIL = Surface(outside=0.04, inside=0.60, sheen=0.002)


def pigments() -> dict[str, tuple[FloatArray, FloatArray]]:
    """Absorption and scattering, each (36,), of the paints on the palette."""
    nm, one = GRID, np.ones_like(GRID)
    blues = 1 / (nm / 550) ** 1.2
    return {
        "chalk white": (0.012 * one + 0.25 * rise(-nm, -392, 20), 2.6 * blues),
        "soot black": (14 * one - 2.0 * rise(nm, 600, 200), 0.12 * one),
        "field ochre": (3.2 * rise(-nm, -520, 75) + 0.45 * peak(nm, 660, 90) + 0.25, 1.1 * one),
        "brick earth": (4.4 * rise(-nm, -572, 48) + 0.5, 0.8 + 0.4 * rise(nm, 600, 60)),
        "bark brown": (6.5 * rise(-nm, -590, 130) + 1.6, 0.35 * one),
        "sun yellow": (4.2 * rise(-nm, -497, 34) + 0.02, 1.3 + 0.3 * rise(nm, 520, 60)),
        "lemon": (2.6 * rise(-nm, -478, 40) + 0.02, 0.9 * one),
        "orange": (4.6 * rise(-nm, -553, 34) + 0.03, 1.1 + 0.5 * rise(nm, 570, 60)),
        "poppy red": (5.2 * rise(-nm, -596, 30) + 0.04, 0.7 + 0.8 * rise(nm, 610, 50)),
        "wine lake": (
            4.5 * peak(nm, 545, 95) + 2.6 * peak(nm, 510, 60) + 1.3 * peak(nm, 400, 120) + 0.06,
            0.18 + 0.2 * rise(nm, 620, 60),
        ),
        "heather violet": (3.4 * peak(nm, 575, 80) + 1.6 * peak(nm, 535, 60) + 0.2, 0.4 * blues),
        "deep blue": (
            4.8 * peak(nm, 598, 105) + 1.0 * peak(nm, 545, 70) + 0.06,
            0.45 * blues + 0.25 * rise(nm, 700, 30),
        ),
        "harbour blue": (
            7.5 * peak(nm, 672, 130) + 3.2 * peak(nm, 606, 80) + 0.5 * peak(nm, 390, 50) + 0.05,
            0.4 * blues,
        ),
        "glass green": (
            7.0 * peak(nm, 645, 120) + 2.8 * peak(nm, 415, 85) + 0.08,
            0.45 * one,
        ),
        "meadow green": (
            2.4 * peak(nm, 655, 100) + 3.2 * rise(-nm, -492, 46) + 0.35 * peak(nm, 600, 60) + 0.12,
            0.9 * one,
        ),
    }


Recipe = dict[str, float]
"""Parts of each paint, by name; they need not add up to 1."""


def mixed(recipe: Recipe) -> tuple[FloatArray, FloatArray]:
    """Absorption and scattering of a mixture, each (36,)."""
    paints, whole = pigments(), sum(recipe.values())
    absorption = sum(part / whole * paints[name][0] for name, part in recipe.items())
    scattering = sum(part / whole * paints[name][1] for name, part in recipe.items())
    return np.asarray(absorption), np.asarray(scattering)


def hiding(absorption: FloatArray, scattering: FloatArray) -> FloatArray:
    """Inner reflectance of a layer that hides its ground."""
    ratio = absorption / scattering
    return 1 + ratio - np.sqrt(ratio**2 + 2 * ratio)


def layer(
    absorption: FloatArray, scattering: FloatArray, thickness: float, ground: FloatArray
) -> FloatArray:
    """Inner reflectance of a layer of ``thickness`` over inner reflectance ``ground``."""
    a = 1 + absorption / scattering
    b = np.sqrt(a**2 - 1)
    path = np.clip(b * scattering * max(thickness, 1e-4), 1e-9, 60)
    coth = 1 / np.tanh(path)
    return np.asarray((1 - ground * (a - b * coth)) / (a - ground + b * coth))


def seen(inner: FloatArray, surface: Surface) -> FloatArray:
    """Reflectance outside the film, gloss excluded, from the inner one."""
    through = (1 - surface.outside) * (1 - surface.inside)
    return surface.sheen + through * inner / (1 - surface.inside * inner)


def inner(outer: FloatArray, surface: Surface) -> FloatArray:
    """Inverse of `seen`."""
    through = (1 - surface.outside) * (1 - surface.inside)
    left = outer - surface.sheen
    return left / (through + surface.inside * left)


def blend(start: Recipe, end: Recipe, surface: Surface, nodes: int) -> FloatArray:
    """Reflectances (nodes, 36) from one hiding mixture to another."""
    from_k, from_s = mixed(start)
    to_k, to_s = mixed(end)
    shares = np.linspace(0, 1, nodes)[:, None]
    absorption = (1 - shares) * from_k + shares * to_k
    scattering = (1 - shares) * from_s + shares * to_s
    return seen(hiding(absorption, scattering), surface)


def wash(recipe: Recipe, ground: FloatArray, surface: Surface, nodes: int) -> FloatArray:
    """Reflectances (nodes, 36) of a wash over ``ground``, from none to a full load."""
    absorption, scattering = mixed(recipe)
    below = inner(ground, surface)
    loads = np.linspace(0, 1, nodes) ** 1.5 * 1.6
    films = [layer(absorption, 0.25 * scattering, load, below) for load in loads]
    return seen(np.stack(films), surface)
