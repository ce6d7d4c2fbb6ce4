"""Which colours the strips have: the neutral scale, and a spread over what inks reach."""

from __future__ import annotations

from itertools import product

import numpy as np

from colormatch.colour.spaces import lab_from_xyz, rgb_space, xyz_from_lab
from colormatch.model import FloatArray

LIGHTEST = 96.0
"""Lightness of the lightest printed step; bare paper is the step above."""

CANDIDATE_STEP = 15
"""Between 8-bit codes of the candidates; 255 is a multiple."""

CHROMA_WEIGHT = 0.045
"""Of SC in CIEDE2000 (ISO/CIE 11664-6)."""

PRINTABLE_CORNERS = (
    (95.0, 0.0, 0.0),
    (10.0, 0.0, 0.0),
    (88.0, -6.0, 85.0),
    (50.0, 62.0, 38.0),
    (48.0, 68.0, -8.0),
    (27.0, 24.0, -48.0),
    (57.0, -34.0, -44.0),
    (50.0, -58.0, 28.0),
)
"""CIELAB of paper, black, yellow, red, magenta, blue, cyan and green of an inkjet on
matt paper: typical, from memory, no source. They only steer which colours are asked."""


def nominal_xyz(codes: FloatArray) -> FloatArray:
    """Give XYZ for D50 of 8-bit sRGB codes, shape (..., 3)."""
    space = rgb_space("srgb")
    xyz: FloatArray = space.decode(np.asarray(codes) / 255.0) @ space.xyz_from_rgb.T
    return xyz


def nominal_lab(codes: FloatArray) -> FloatArray:
    """Give CIELAB D50 of 8-bit sRGB codes, shape (..., 3)."""
    return lab_from_xyz(nominal_xyz(codes))


def codes_from_lab(lab: FloatArray) -> FloatArray:
    """Give the nearest 8-bit sRGB codes of CIELAB D50 colours, shape (..., 3)."""
    space = rgb_space("srgb")
    encoded = space.encode(xyz_from_lab(np.asarray(lab)) @ space.rgb_from_xyz.T)
    return np.clip(np.round(encoded * 255), 0, 255)


def neutral_codes(steps: int) -> FloatArray:
    """Give the scale's 8-bit codes, shape (steps, 3), darkest first."""
    lightness = np.linspace(0, LIGHTEST, steps)
    return codes_from_lab(np.stack([lightness, 0 * lightness, 0 * lightness], axis=-1))


def compressed(lab: FloatArray) -> FloatArray:
    """Shorten chroma as CIEDE2000 weights it; plain distances then look even."""
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    short = np.log1p(CHROMA_WEIGHT * chroma) / CHROMA_WEIGHT
    scale = short / np.maximum(chroma, 1e-9)
    return np.stack([lab[..., 0], lab[..., 1] * scale, lab[..., 2] * scale], axis=-1)


def candidates() -> FloatArray:
    """Give the 8-bit codes inside the printable hull, shape (N, 3)."""
    from scipy.spatial import Delaunay

    codes = np.array(list(product(range(0, 256, CANDIDATE_STEP), repeat=3)), dtype=float)
    inside = Delaunay(np.array(PRINTABLE_CORNERS)).find_simplex(nominal_lab(codes)) >= 0
    return codes[inside]


def chromatic_codes(count: int, chosen: FloatArray) -> FloatArray:
    """Choose ``count`` colours far from each other and from those ``chosen``, (count, 3)."""
    pool = candidates()
    places = compressed(nominal_lab(pool))
    taken = compressed(nominal_lab(chosen))
    nearest = np.linalg.norm(places[:, None] - taken[None], axis=-1).min(axis=1)
    picked = []
    for _ in range(count):
        index = int(nearest.argmax())
        picked.append(pool[index])
        nearest = np.minimum(nearest, np.linalg.norm(places - places[index], axis=-1))
    return np.array(picked)
