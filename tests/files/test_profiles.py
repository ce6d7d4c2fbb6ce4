"""Profiles made here, against LittleCMS, colour-science and the printed figures."""

from __future__ import annotations

import hashlib
import io
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import ImageCms

from colormatch.colour.science import colour_science
from colormatch.colour.spaces import rgb_space
from colormatch.files.profiles import read_input_profile, scanner_profile, space_profile
from tests.files.tools import exiftool, needs, run

SPACES = ("srgb", "oprgb")
VERSIONS = (4, 2)
NAMES = {"srgb": "sRGB", "oprgb": "Adobe RGB (1998)"}
CODES = np.array(
    [[255, 0, 0], [0, 255, 0], [0, 0, 255], [200, 100, 50], [119, 119, 119], [255] * 3, [9, 7, 5]]
)


def opened(data: bytes) -> Any:
    return ImageCms.ImageCmsProfile(io.BytesIO(data)).profile


def lab_by_colour_science(codes: NDArray[np.int_], space: str) -> NDArray[np.float64]:
    """Give the colours by colour-science: its own primaries, Bradford, ICC D50."""
    colour = colour_science()
    whites = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]
    model = colour.RGB_COLOURSPACES[NAMES[space]].copy()
    model.use_derived_transformation_matrices(True)
    xyz = colour.RGB_to_XYZ(
        codes / 255,
        model,
        illuminant=whites["ICC D50"],
        chromatic_adaptation_transform="Bradford",
        apply_cctf_decoding=True,
    )
    return np.asarray(colour.XYZ_to_Lab(xyz, whites["ICC D50"]))


def lab_by_transicc(path: Path, codes: NDArray[np.floating]) -> NDArray[np.float64]:
    """Give the colours by LittleCMS's command: unbounded, relative colorimetric."""
    lines = "\n".join(" ".join(f"{value:.9g}" for value in row) for row in codes)
    said = run("transicc", "-n", "-t1", f"-i{path}", "-o*Lab", text=lines + "\n")
    rows = [line.split() for line in said.splitlines()]
    return np.array([[float(v) for v in row[:3]] for row in rows if len(row) >= 3 and _is(row)])


def _is(row: list[str]) -> bool:
    try:
        [float(value) for value in row[:3]]
    except ValueError:
        return False
    return True


@needs("transicc")
@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("space", SPACES)
def test_littlecms_gives_the_colours_of_colour_science(
    tmp_path: Path, space: str, version: int
) -> None:
    path = tmp_path / "a.icc"
    path.write_bytes(space_profile(rgb_space(space), version))
    lab = lab_by_transicc(path, CODES.astype(float))
    np.testing.assert_allclose(lab, lab_by_colour_science(CODES, space), rtol=0, atol=0.02)


# s15Fixed16 columns of red, green and blue: what LittleCMS 2 computes from the
# primaries by itself (cmsCreateRGBProfile), each row X, Y, Z.
COLORANTS = {
    "srgb": [[0x6FA0, 0x38F5, 0x0390], [0x6297, 0xB787, 0x18D9], [0x249F, 0x0F84, 0xB6C3]],
    "oprgb": [[0x9C18, 0x4FA5, 0x04FC], [0x348D, 0xA02C, 0x0F95], [0x2631, 0x102F, 0xBE9B]],
}


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("space", SPACES)
def test_colorants_to_the_last_bit(space: str, version: int) -> None:
    profile = opened(space_profile(rgb_space(space), version))
    columns = (profile.red_colorant, profile.green_colorant, profile.blue_colorant)
    stored = [[round(value * 65536) for value in column[0]] for column in columns]
    assert stored == COLORANTS[space]


def test_srgb_equals_the_profile_littlecms_makes() -> None:
    theirs = opened(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    ours = opened(space_profile(rgb_space("srgb")))
    for name in ("red_colorant", "green_colorant", "blue_colorant", "chromatic_adaptation"):
        np.testing.assert_array_equal(getattr(ours, name), getattr(theirs, name))


@pytest.mark.parametrize("space", SPACES)
def test_white_is_the_connection_space_white(space: str) -> None:
    profile = opened(space_profile(rgb_space(space)))
    # ICC.1:2022, 7.2.16: D50 as s15Fixed16 numbers.
    expected = [0xF6D6, 0x10000, 0xD32D]
    assert [round(value * 65536) for value in profile.media_white_point[0]] == expected
    columns = (profile.red_colorant, profile.green_colorant, profile.blue_colorant)
    total = np.sum([column[0] for column in columns], axis=0) * 65536
    np.testing.assert_allclose(total, expected, rtol=0, atol=1)


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("space", SPACES)
def test_what_other_programs_show(space: str, version: int) -> None:
    data = space_profile(rgb_space(space), version)
    profile = opened(data)
    assert profile.profile_description == rgb_space(space).title
    assert profile.version == pytest.approx(4.4 if version == 4 else 2.4)
    assert profile.device_class.strip() == "mntr"
    assert profile.xcolor_space.strip() == "RGB"
    assert profile.is_matrix_shaper
    assert ("Adobe RGB (1998)" in profile.copyright) == (space == "oprgb")
    assert profile.creation_date == datetime(2026, 1, 1)
    assert len(data) == int.from_bytes(data[:4], "big")
    assert len(data) % 4 == 0


@pytest.mark.parametrize("space", SPACES)
def test_profile_id_is_the_md5_of_the_rest(space: str) -> None:
    """ICC.1:2022, 7.2.18: flags, intent and the ID itself count as zero."""
    data = bytearray(space_profile(rgb_space(space)))
    stored = bytes(data[84:100])
    data[44:48] = data[64:68] = bytes(4)
    data[84:100] = bytes(16)
    assert stored == hashlib.md5(data, usedforsecurity=False).digest()
    assert space_profile(rgb_space(space), 2)[84:100] == bytes(16)


@pytest.mark.parametrize("version", VERSIONS)
def test_elements_are_aligned_and_inside(version: int) -> None:
    for space in SPACES:
        data = space_profile(rgb_space(space), version)
        count = int.from_bytes(data[128:132], "big")
        names = set()
        for at in range(132, 132 + 12 * count, 12):
            start, length = (int.from_bytes(data[at + k : at + k + 4], "big") for k in (4, 8))
            names.add(data[at : at + 4])
            assert start % 4 == 0
            assert start + length <= len(data)
        assert len(names) == count
        required = b"desc cprt wtpt rXYZ gXYZ bXYZ rTRC gTRC bTRC"
        assert set(required.split()) <= names


@needs("exiftool")
@pytest.mark.parametrize("version", VERSIONS)
def test_exiftool_reads_it(tmp_path: Path, version: int) -> None:
    path = tmp_path / "a.icc"
    path.write_bytes(space_profile(rgb_space("oprgb"), version))
    facts = exiftool(path)
    assert facts["ICC_Profile:ProfileDescription"] == "opRGB (IEC 61966-2-5)"
    assert facts["ICC-header:ProfileVersion"] == (1088 if version == 4 else 576)
    assert "compatible with adobe rgb (1998)" in facts["ICC_Profile:ProfileCopyright"].lower()
    assert "ExifTool:Warning" not in facts


def test_unknown_version_is_a_programming_error() -> None:
    with pytest.raises(ValueError, match=r"version must be 4 or 2 \(got 3\)"):
        space_profile(rgb_space("srgb"), 3)


# An invented scanner: uneven curves, and a matrix whose white is not D50.
SCANNER_CURVES = np.linspace(0, 1, 777) ** np.array([[1.7], [2.0], [2.3]]) * 0.97
SCANNER_MATRIX = np.array([[0.55, 0.28, 0.15], [0.3, 0.68, 0.05], [0.02, 0.1, 0.71]])


@needs("transicc")
@pytest.mark.parametrize("version", VERSIONS)
def test_littlecms_turns_scanner_values_into_the_colours_meant(
    tmp_path: Path, version: int
) -> None:
    path = tmp_path / "a.icc"
    path.write_bytes(scanner_profile(SCANNER_CURVES, SCANNER_MATRIX, "Glass", version=version))
    x = np.linspace(0, 1, 777)
    linear = np.array([np.interp(CODES[:, k] / 255, x, SCANNER_CURVES[k]) for k in range(3)]).T
    colour = colour_science()
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["ICC D50"]
    expected = colour.XYZ_to_Lab(linear @ SCANNER_MATRIX.T, white)
    np.testing.assert_allclose(
        lab_by_transicc(path, CODES.astype(float)), expected, rtol=0, atol=0.02
    )


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("name", ["Glass", "Verre – été 画"])
def test_scanner_profile_header_and_name(version: int, name: str) -> None:
    when = datetime(2026, 5, 6, 7, 8, 9, tzinfo=UTC)
    data = scanner_profile(SCANNER_CURVES, SCANNER_MATRIX, name, version=version, when=when)
    profile = opened(data)
    assert profile.device_class.strip() == "scnr"
    assert profile.creation_date == datetime(2026, 5, 6, 7, 8, 9)
    if version == 4 or name.isascii():
        assert profile.profile_description == name


def test_scanner_profile_reads_back() -> None:
    back = read_input_profile(scanner_profile(SCANNER_CURVES, SCANNER_MATRIX, "Glass"))
    assert back.usable
    assert back.matrix is not None
    assert back.curves is not None
    np.testing.assert_allclose(back.matrix, SCANNER_MATRIX, rtol=0, atol=1 / 65536)
    x, fine = np.linspace(0, 1, 777), np.linspace(0, 1, 1024)
    for curve, meant in zip(back.curves, SCANNER_CURVES, strict=True):
        np.testing.assert_allclose(curve, np.interp(fine, x, meant), rtol=0, atol=1 / 65535)


@pytest.mark.parametrize(
    ("curves", "matrix", "words"),
    [
        (SCANNER_CURVES[:2], SCANNER_MATRIX, "shape"),
        (SCANNER_CURVES * 1.2, SCANNER_MATRIX, "within 0 to 1"),
        (SCANNER_CURVES * np.nan, SCANNER_MATRIX, "within 0 to 1"),
        (np.zeros((3, 1)), SCANNER_MATRIX, "2 to 4096 points"),
        (np.zeros((3, 5000)), SCANNER_MATRIX, "2 to 4096 points"),
        (SCANNER_CURVES, SCANNER_MATRIX[:2], "3 x 3"),
        (SCANNER_CURVES, SCANNER_MATRIX * np.inf, "finite"),
    ],
)
def test_wrong_shapes_and_ranges_are_programming_errors(
    curves: NDArray[np.float64], matrix: NDArray[np.float64], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        scanner_profile(curves, matrix, "x")
