"""Profiles from elsewhere, whole and damaged."""

from __future__ import annotations

import io
import re
import struct

import imagecodecs
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageCms

from colormatch.colour.spaces import rgb_space
from colormatch.files import icc
from colormatch.files.input_profiles import POINTS, read_input_profile
from colormatch.files.profiles import scanner_profile, space_profile

X = np.linspace(0, 1, POINTS)
MATRIX = rgb_space("srgb").xyz_from_rgb


def profile_with(curve: bytes, device_class: bytes = b"scnr") -> bytes:
    """Give a profile whose three curves are the element ``curve``."""
    data = bytearray(scanner_profile(np.array([[0, 1]] * 3), MATRIX, "x", version=2))
    count = int.from_bytes(data[128:132], "big")
    for at in range(132, 132 + 12 * count, 12):
        if data[at + 1 : at + 4] == b"TRC":
            struct.pack_into(">II", data, at + 4, len(data), len(curve))
    data[12:16] = device_class
    data += curve + bytes(-len(curve) % 4)
    struct.pack_into(">I", data, 0, len(data))
    return bytes(data)


def reason(data: bytes) -> str:
    profile = read_input_profile(data)
    assert not profile.usable
    assert profile.curves is None
    assert profile.matrix is None
    return profile.reason


def test_profile_of_littlecms_for_srgb() -> None:
    profile = read_input_profile(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    assert profile.usable
    assert profile.reason == ""
    assert profile.device_class == "mntr"
    assert profile.description == "sRGB built-in"
    assert profile.matrix is not None
    assert profile.curves is not None
    np.testing.assert_allclose(profile.matrix, MATRIX, rtol=0, atol=2e-5)
    np.testing.assert_allclose(profile.curves[0], rgb_space("srgb").decode(X), rtol=0, atol=1e-5)


def test_profile_of_littlecms_with_one_exponent() -> None:
    profile = read_input_profile(bytes(imagecodecs.cms_profile("adobergb")))
    assert profile.usable
    assert profile.matrix is not None
    assert profile.curves is not None
    np.testing.assert_allclose(profile.matrix, rgb_space("oprgb").xyz_from_rgb, rtol=0, atol=2e-5)
    np.testing.assert_allclose(profile.curves[1], X ** (563 / 256), rtol=0, atol=1e-4)


def by_littlecms(data: bytes, values: np.ndarray) -> np.ndarray:
    """Give the linear light of greys, by a transform to the same space made linear."""
    linear = scanner_profile(np.array([[0, 1]] * 3), MATRIX, "linear")
    grey = np.repeat(np.rint(values * 65535).astype(np.uint16)[None, :, None], 3, axis=2)
    # Relative colorimetric, so that black is not shifted; 0x0100 keeps LittleCMS from
    # replacing the curves by a sampled table.
    out = imagecodecs.cms_transform(
        grey, data, linear, colorspace="rgb", outcolorspace="rgb", intent=1, flags=0x0100
    )
    return np.asarray(out[0, :, 0] / 65535)


# Functions 0 to 4 of ICC.1:2022, 10.18; LittleCMS is the judge.
@pytest.mark.parametrize(
    ("function", "parameters"),
    [
        (0, [1.8]),
        (1, [2.2, 1.1, -0.1]),
        (2, [2.0, 0.9, -0.1, 0.05]),
        (3, [2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045]),
        (4, [3.0, 0.85, 0.1, 0.2, 0.1, 0.02, 0.0]),
    ],
)
def test_parametric_curves_as_littlecms_takes_them(function: int, parameters: list[float]) -> None:
    data = profile_with(icc.parametric_element(function, parameters))
    profile = read_input_profile(data)
    assert profile.usable, profile.reason
    assert profile.curves is not None
    expected = by_littlecms(data, X)
    np.testing.assert_allclose(profile.curves[0], expected, rtol=0, atol=3e-4)


def test_table_and_identity_as_littlecms_takes_them() -> None:
    table = np.sort(np.random.default_rng(3).random(33))
    for element in (icc.table_element(table), b"curv" + bytes(8)):
        data = profile_with(element)
        profile = read_input_profile(data)
        assert profile.curves is not None
        np.testing.assert_allclose(profile.curves[2], by_littlecms(data, X), rtol=0, atol=3e-4)


def test_description_of_version_2_and_of_nothing() -> None:
    assert read_input_profile(space_profile(rgb_space("oprgb"), 2)).description == (
        "opRGB (IEC 61966-2-5)"
    )
    data = space_profile(rgb_space("oprgb")).replace(b"mluc", b"xxxx")
    profile = read_input_profile(data)
    assert profile.description == ""
    assert profile.usable


def test_description_with_line_breaks_is_one_line() -> None:
    data = scanner_profile(np.array([[0, 1]] * 3), MATRIX, "a\nb\x1b[31m")
    assert read_input_profile(data).description == "a b [31m"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "damaged: no profile header"),
        (bytes(500), "damaged: no profile header"),
        (space_profile(rgb_space("srgb"))[:-100], "damaged: cut short"),
        (profile_with(b"curv" + bytes(8), b"prtr"), "made for a printer, not for a scanner"),
        (profile_with(b"curv" + bytes(8), b"zzzz"), r"unknown class of device \('zzzz'\)"),
        (profile_with(b"curv" + struct.pack(">4xI", 900)), "a curve is cut short"),
        (profile_with(b"para" + struct.pack(">4xHxxi", 4, 65536)), "a curve is cut short"),
        (profile_with(b"para" + struct.pack(">4xHxxi", 9, 65536)), "a curve is cut short"),
        (profile_with(b"sf32" + bytes(20)), "curves are of an unknown kind"),
        (profile_with(icc.table_element([1, 0.5, 0])), "curves do not rise"),
        (profile_with(icc.table_element([0.4, 0.4])), "curves do not rise"),
        (profile_with(icc.parametric_element(0, [-1])), "curves make no sense"),
        (space_profile(rgb_space("srgb")).replace(b"RGB XYZ ", b"CMYKXYZ "), "for CMYK"),
        (space_profile(rgb_space("srgb")).replace(b"RGB XYZ ", b"RGB Lab "), "needs XYZ"),
        (space_profile(rgb_space("srgb")).replace(b"rTRC", b"rTRX"), "no rTRC"),
        (scanner_profile(np.array([[0, 1]] * 3), np.ones((3, 3)), "x"), "matrix makes no sense"),
    ],
)
def test_unusable_profiles_say_why(data: bytes, words: str) -> None:
    assert re.search(words, reason(data))


def test_table_profile_is_named_as_such() -> None:
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    assert "not for" in reason(lab)
    data = space_profile(rgb_space("srgb")).replace(b"rTRC", b"A2B0").replace(b"gTRC", b"none")
    assert reason(data) == "it works by tables alone, without curves and a matrix"


def test_unused_tables_are_named() -> None:
    data = space_profile(rgb_space("srgb")).replace(b"chad", b"A2B0")
    profile = read_input_profile(data)
    assert profile.usable
    assert profile.reason == "its tables are left unused"


SEEDS = [
    space_profile(rgb_space("srgb")),
    space_profile(rgb_space("oprgb"), 2),
    scanner_profile(np.array([[0, 0.2, 1]] * 3), MATRIX, "x"),
    ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(),
]


@settings(max_examples=400, deadline=None)
@given(data=st.data())
def test_no_damage_gets_through(data: st.DataObject) -> None:
    content = bytearray(data.draw(st.sampled_from(SEEDS)))
    for _ in range(data.draw(st.integers(1, 6))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    del content[data.draw(st.integers(len(content) // 3, len(content))) :]
    check(bytes(content))


@given(st.binary(max_size=600))
def test_no_bytes_get_through(content: bytes) -> None:
    check(content)
    check(SEEDS[0][:36] + b"acsp" + content)


def check(content: bytes) -> None:
    profile = read_input_profile(content)
    assert "\n" not in profile.description + profile.reason
    if not profile.usable:
        assert profile.reason
        return
    assert profile.curves is not None
    assert profile.matrix is not None
    assert profile.curves.shape == (3, POINTS)
    assert ((profile.curves >= 0) & (profile.curves <= 1)).all()
    assert (np.diff(profile.curves) >= 0).all()
    assert np.isfinite(np.linalg.inv(profile.matrix)).all()


def test_pillow_opens_what_the_helper_makes() -> None:
    """The other tests rest on `profile_with` giving real profiles."""
    data = profile_with(icc.gamma_element(1.5))
    assert ImageCms.ImageCmsProfile(io.BytesIO(data)).profile.is_matrix_shaper
