"""White points, primaries and the constants of the transfer curves and of CIELAB.

Plain tuples: whoever needs an array makes one, and nobody can write into these.
"""

from __future__ import annotations

Triple = tuple[float, float, float]

D50_XYZ: Triple = (0.9642, 1.0, 0.8249)
"""White of the ICC profile connection space, as printed in ICC.1:2022, 7.2.16."""

D65_XY = (0.3127, 0.3290)
"""CIE D65, chromaticity as rounded in IEC 61966-2-1 and IEC 61966-2-5."""

A_XY = (0.44758, 0.40745)
"""CIE standard illuminant A, 2 degree observer: CIE 15."""

SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
"""xy of red, green, blue: IEC 61966-2-1 (the same as ITU-R BT.709)."""

OPRGB_PRIMARIES = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))
"""xy of red, green, blue: IEC 61966-2-5 (the same as Adobe RGB (1998))."""

SRGB_OFFSET = 0.055
"""IEC 61966-2-1: value = (1 + offset) light^(1/2.4) - offset above the toe."""

SRGB_EXPONENT = 2.4
SRGB_SLOPE = 12.92
"""IEC 61966-2-1: value = slope x light on the toe."""

SRGB_TOE_VALUE = 0.04045
"""IEC 61966-2-1: encoded value where the toe ends."""

SRGB_TOE_LIGHT = 0.0031308
"""IEC 61966-2-1: linear light where the toe ends."""

OPRGB_EXPONENT = 563 / 256
"""IEC 61966-2-5 and Adobe RGB (1998), version 2005-05: 2.19921875 exactly, no toe."""

BRADFORD: tuple[Triple, Triple, Triple] = (
    (0.8951, 0.2664, -0.1614),
    (-0.7502, 1.7135, 0.0367),
    (0.0389, -0.0685, 1.0296),
)
"""Cone response of the linearised Bradford transform: ICC.1:2022, annex E."""

CIELAB_EPSILON = 216 / 24389
"""ISO/CIE 11664-4: (6/29)^3, where the cube root gives way to a line."""

CIELAB_KAPPA = 24389 / 27
"""ISO/CIE 11664-4: (29/3)^3, slope of that line in L*."""


def xyz_from_xy(xy: tuple[float, float]) -> Triple:
    """Give the XYZ, with Y = 1, of the chromaticity ``xy``."""
    x, y = xy
    return x / y, 1.0, (1.0 - x - y) / y


D65_XYZ: Triple = xyz_from_xy(D65_XY)
"""From `D65_XY`, unrounded: 0.950456, 1, 1.089058."""
