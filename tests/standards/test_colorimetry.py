"""White points, primaries and constants."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.science import colour_science
from colormatch.standards import BRADFORD, D50_XYZ, D65_XY, D65_XYZ, xyz_from_xy
from colormatch.standards.colorimetry import A_XY, CIELAB_EPSILON, CIELAB_KAPPA

OBSERVER = "CIE 1931 2 Degree Standard Observer"


def test_whites_agree_with_colour_science() -> None:
    whites = colour_science().CCS_ILLUMINANTS[OBSERVER]
    np.testing.assert_array_equal(D65_XY, whites["D65"])
    np.testing.assert_array_equal(A_XY, whites["A"])
    # colour-science gives the ICC white as a rounded chromaticity.
    np.testing.assert_allclose(xyz_from_xy(tuple(whites["ICC D50"])), D50_XYZ, atol=5e-5)
    np.testing.assert_allclose(D65_XYZ, colour_science().xy_to_XYZ(whites["D65"]), atol=1e-15)


def test_d50_is_the_fixed_point_number_in_every_icc_header() -> None:
    # Source: ICC.1:2022, 7.2.16: 0000F6D6 00010000 0000D32D, s15Fixed16.
    assert [round(value * 65536) for value in D50_XYZ] == [0xF6D6, 0x10000, 0xD32D]


def test_bradford_agrees_with_colour_science() -> None:
    source = colour_science().adaptation.CHROMATIC_ADAPTATION_TRANSFORMS["Bradford"]
    np.testing.assert_array_equal(BRADFORD, source)


def test_cielab_constants_meet() -> None:
    # Source: ISO/CIE 11664-4: both branches give L* = 8 at the junction.
    assert pytest.approx(8, abs=1e-15) == CIELAB_EPSILON * CIELAB_KAPPA
