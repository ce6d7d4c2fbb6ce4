"""Published numbers, each with its source: white points, primaries, curves, tolerances."""

from __future__ import annotations

from colormatch.standards.colorimetry import (
    BRADFORD,
    CIELAB_EPSILON,
    CIELAB_KAPPA,
    D50_XYZ,
    D65_XY,
    D65_XYZ,
    OPRGB_EXPONENT,
    OPRGB_PRIMARIES,
    SRGB_PRIMARIES,
    xyz_from_xy,
)

__all__ = [
    "BRADFORD",
    "CIELAB_EPSILON",
    "CIELAB_KAPPA",
    "D50_XYZ",
    "D65_XY",
    "D65_XYZ",
    "OPRGB_EXPONENT",
    "OPRGB_PRIMARIES",
    "SRGB_PRIMARIES",
    "xyz_from_xy",
]
