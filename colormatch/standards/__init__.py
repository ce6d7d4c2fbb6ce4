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
from colormatch.standards.tolerances import (
    METRICS,
    TOLERANCE_SETS,
    Check,
    Level,
    Metric,
    Outcome,
    Tolerance,
    ToleranceSet,
    levels_reached,
    tolerance_set,
)

__all__ = [
    "BRADFORD",
    "CIELAB_EPSILON",
    "CIELAB_KAPPA",
    "D50_XYZ",
    "D65_XY",
    "D65_XYZ",
    "METRICS",
    "OPRGB_EXPONENT",
    "OPRGB_PRIMARIES",
    "SRGB_PRIMARIES",
    "TOLERANCE_SETS",
    "Check",
    "Level",
    "Metric",
    "Outcome",
    "Tolerance",
    "ToleranceSet",
    "levels_reached",
    "tolerance_set",
    "xyz_from_xy",
]
