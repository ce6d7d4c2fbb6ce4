"""RGB spaces, adaptation, CIELAB."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.colour.science import colour_science
from colormatch.colour.spaces import adaptation, lab_from_xyz, rgb_space, xyz_from_lab
from colormatch.errors import InputError
from colormatch.standards import D50_XYZ, D65_XYZ

# s15Fixed16 red, green, blue colorants as LittleCMS 2.19 writes them for the same
# primaries (value columns X, Y, Z of each primary).
LITTLECMS_COLORANTS = {
    "srgb": [[0x6FA0, 0x38F5, 0x0390], [0x6297, 0xB787, 0x18D9], [0x249F, 0x0F84, 0xB6C3]],
    "oprgb": [[0x9C18, 0x4FA5, 0x04FC], [0x348D, 0xA02C, 0x0F95], [0x2631, 0x102F, 0xBE9B]],
}


@pytest.mark.parametrize("name", ["srgb", "oprgb"])
def test_colorants_equal_those_of_littlecms(name: str) -> None:
    columns = np.array(LITTLECMS_COLORANTS[name]).T / 65536
    np.testing.assert_allclose(rgb_space(name).xyz_from_rgb, columns, atol=1.01 / 65536)


@pytest.mark.parametrize(("name", "title"), [("srgb", "sRGB"), ("oprgb", "Adobe RGB (1998)")])
def test_matrices_agree_with_colour_science(name: str, title: str) -> None:
    # Source: colour-science: primaries, normalised primary matrix and Bradford.
    colour = colour_science()
    source = colour.RGB_COLOURSPACES[title]
    np.testing.assert_allclose(rgb_space(name).primaries, source.primaries, atol=0)
    exact = colour.models.normalised_primary_matrix(source.primaries, source.whitepoint)
    bradford = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        np.array(D65_XYZ), np.array(D50_XYZ), "Bradford"
    )
    np.testing.assert_allclose(rgb_space(name).xyz_from_rgb, bradford @ exact, atol=1e-12)


@pytest.mark.parametrize("name", ["srgb", "oprgb"])
def test_white_is_d50_and_the_matrices_invert_each_other(name: str) -> None:
    space = rgb_space(name)
    np.testing.assert_allclose(np.ones(3) @ space.xyz_from_rgb.T, D50_XYZ, atol=1e-12)
    np.testing.assert_allclose(space.rgb_from_xyz @ space.xyz_from_rgb, np.eye(3), atol=1e-12)
    np.testing.assert_allclose(space.decode(space.encode([0.2])), [0.2], atol=1e-12)


def test_spaces_cannot_be_changed_by_accident() -> None:
    with pytest.raises(ValueError, match="read-only"):
        rgb_space("srgb").xyz_from_rgb[0, 0] = 0


def test_unknown_space_is_named() -> None:
    with pytest.raises(InputError, match=r"'prophoto': choose srgb or oprgb"):
        rgb_space("prophoto")


def test_bradford_from_d65_to_d50() -> None:
    # Source: the chad tag LittleCMS 2.19 writes for a D65 space, s15Fixed16.
    chad = [
        [0x00010C42, 0x000005DE, 0xFFFFF325 - 2**32],
        [0x00000793, 0x0000FD90, 0xFFFFFBA1 - 2**32],
        [0xFFFFFDA2 - 2**32, 0x000003DC, 0x0000C06E],
    ]
    matrix = adaptation(D65_XYZ, D50_XYZ)
    np.testing.assert_allclose(matrix, np.array(chad) / 65536, atol=1.01 / 65536)
    np.testing.assert_allclose(matrix @ D65_XYZ, D50_XYZ, atol=1e-12)
    np.testing.assert_allclose(adaptation(D50_XYZ, D65_XYZ) @ matrix, np.eye(3), atol=1e-12)


def test_lab_agrees_with_colour_science() -> None:
    # Source: colour-science, ISO/CIE 11664-4, given the ICC white as chromaticity.
    colour = colour_science()
    xyz = np.random.default_rng(1).uniform(0, 1.1, (500, 3)) ** 3
    white = colour.XYZ_to_xy(np.array(D50_XYZ))
    np.testing.assert_allclose(lab_from_xyz(xyz), colour.XYZ_to_Lab(xyz, white), atol=1e-9)


@pytest.mark.parametrize(
    ("lightness", "luminance"), [(50, 18.418652), (8, 0.885645), (90, 76.303354), (20, 2.989052)]
)
def test_lightness_of_known_luminances(lightness: float, luminance: float) -> None:
    # Source: the rational constants of ISO/CIE 11664-4, worked by hand.
    xyz = luminance / 100 * np.array(D50_XYZ)
    np.testing.assert_allclose(lab_from_xyz(xyz), [lightness, 0, 0], atol=1e-5)


# 8-bit codes and their CIELAB under Bradford to the ICC D50, from an independent
# float64 calculation with the published constants.
CHECK_COLOURS = [
    ("srgb", (255, 0, 0), (54.2896, 80.8144, 69.8897)),
    ("srgb", (0, 255, 0), (87.8194, -79.2749, 80.9927)),
    ("srgb", (200, 100, 50), (54.2171, 38.2029, 46.2481)),
    ("srgb", (119, 119, 119), (50.0344, 0, 0)),
    ("oprgb", (0, 255, 0), (83.2143, -129.0927, 87.1696)),
    ("oprgb", (0, 0, 255), (30.2089, 69.2497, -113.6137)),
    ("oprgb", (200, 100, 50), (58.4097, 48.3148, 55.4405)),
]


@pytest.mark.parametrize(("name", "code", "lab"), CHECK_COLOURS)
def test_check_colours(
    name: str, code: tuple[int, int, int], lab: tuple[float, float, float]
) -> None:
    space = rgb_space(name)
    xyz = space.decode(np.array(code) / 255) @ space.xyz_from_rgb.T
    np.testing.assert_allclose(lab_from_xyz(xyz), lab, atol=1e-4)


@given(st.lists(st.floats(-0.05, 2), min_size=3, max_size=3))
def test_lab_round_trip(xyz: list[float]) -> None:
    np.testing.assert_allclose(xyz_from_lab(lab_from_xyz(xyz)), xyz, atol=1e-12)


def test_any_leading_shape_and_float32() -> None:
    xyz = np.full((2, 5, 3), 0.25, np.float32)
    assert lab_from_xyz(xyz).shape == (2, 5, 3)
    assert lab_from_xyz(xyz).dtype == np.float32
    np.testing.assert_allclose(xyz_from_lab(lab_from_xyz(xyz)), xyz, atol=1e-6)
