"""Spectra: from reflectance to CIELAB, against colour-science."""

from __future__ import annotations

import re
import warnings
from functools import cache
from typing import Any

import numpy as np
import pytest

from colormatch.colour.science import colour_science
from colormatch.colour.spaces import lab_from_xyz
from colormatch.errors import ReferenceFileError
from colormatch.files.references import parse_reference
from colormatch.files.spectra import bands, xyz_from_reflectance
from colormatch.model import FloatArray
from colormatch.standards import D50_XYZ
from tests.files.reference_files import table_of


@cache
def _samples() -> Any:
    """Give the 99 reflectances of CIE 224, at 1 nm, as colour-science ships them."""
    colour_science()
    from colour.quality.cfi2017 import load_TCS_CIE2017

    return load_TCS_CIE2017(colour_science().SpectralShape(380, 780, 1))


def _reflectance(start: int, end: int, step: int) -> tuple[FloatArray, FloatArray]:
    waves = np.arange(start, end + 1, step, dtype=float)
    index = np.searchsorted(_samples().wavelengths, waves)
    return waves, np.asarray(_samples().values[index].T)


def _expected_lab(waves: FloatArray, reflectance: FloatArray) -> FloatArray:
    """Go the library's own way, sample by sample, with its white of the same bands."""
    colour = colour_science()
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    illuminant = colour.SDS_ILLUMINANTS["D50"]

    def xyz(values: FloatArray) -> FloatArray:
        spectrum = colour.SpectralDistribution(values, waves)
        return np.asarray(colour.sd_to_XYZ(spectrum, observer, illuminant, method="ASTM E308"))

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        white = colour.XYZ_to_xy(xyz(np.ones(len(waves))))
        return np.stack([colour.XYZ_to_Lab(xyz(row) / 100, white) for row in reflectance])


@pytest.mark.parametrize(
    ("start", "end", "step"),
    [(380, 730, 10), (400, 700, 10), (380, 780, 5), (400, 700, 20), (380, 780, 1), (380, 740, 10)],
)
def test_cie_224_samples_agree_with_colour_science(start: int, end: int, step: int) -> None:
    waves, reflectance = _reflectance(start, end, step)
    xyz = xyz_from_reflectance(waves, reflectance, "file.txt")
    np.testing.assert_allclose(lab_from_xyz(xyz), _expected_lab(waves, reflectance), atol=0.01)


@pytest.mark.parametrize("step", [2, 4])
def test_other_fine_steps_come_close_to_one_nanometre(step: int) -> None:
    fine = lab_from_xyz(xyz_from_reflectance(*_reflectance(380, 780, 1), "file.txt"))
    coarse = lab_from_xyz(xyz_from_reflectance(*_reflectance(380, 780, step), "file.txt"))
    assert np.abs(fine - coarse).max() < 0.1


@pytest.mark.parametrize(("start", "end", "step"), [(380, 730, 10), (400, 700, 20), (380, 780, 1)])
def test_the_perfect_diffuser_is_the_icc_white(start: int, end: int, step: int) -> None:
    waves = np.arange(start, end + 1, step, dtype=float)
    white = xyz_from_reflectance(waves, np.ones((1, len(waves))), "file.txt")
    np.testing.assert_allclose(white, [D50_XYZ], atol=1e-12)


def test_bands_may_come_in_any_order() -> None:
    waves, reflectance = _reflectance(380, 730, 10)
    np.testing.assert_allclose(
        xyz_from_reflectance(waves[::-1], reflectance[:, ::-1], "file.txt"),
        xyz_from_reflectance(waves, reflectance, "file.txt"),
        atol=1e-12,
    )


# Names of columns seen in practice: common practice, no source; pairs: CGATS.17.
NAMES = ["SPECTRAL_NM{}", "SPECTRAL_NM_{}", "SPECTRAL_{}", "NM_{}", "nm{}", "R_{}", "{}", "{}nm"]
NAMES += ["{}.0", "SPECTRAL_PCT{}", "Spectral_Dec_{}", "SPECTRAL_NM{}.00"]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("scale", [1, 100])
def test_spectra_in_files(name: str, scale: int) -> None:
    waves, reflectance = _reflectance(380, 730, 10)
    ids = tuple(f"S{i}" for i in range(99))
    columns = " ".join(name.format(int(wave)) for wave in waves)
    text = table_of(columns, scale * reflectance, ids)
    reference = parse_reference(text.encode(), "spectra.txt")
    np.testing.assert_allclose(
        lab_from_xyz(reference.xyz), _expected_lab(waves, reflectance), atol=0.01
    )
    assert reference.notes == (
        f"spectra taken as scaled to {scale}, integrated for D50 and the 2 degree observer",
    )


@pytest.mark.parametrize(("word", "scale"), [("PCT", 100), ("DEC", 1)])
def test_spectra_in_pairs(word: str, scale: int) -> None:
    waves, reflectance = _reflectance(380, 730, 10)
    pairs = np.empty((99, 2 * len(waves)))
    pairs[:, 0::2], pairs[:, 1::2] = waves, scale * reflectance
    columns = f"SPECTRAL_NM SPECTRAL_{word} " * len(waves)
    text = table_of(columns, pairs, tuple(f"S{i}" for i in range(99)))
    reference = parse_reference(text.encode(), "pairs.txt")
    np.testing.assert_allclose(
        lab_from_xyz(reference.xyz), _expected_lab(waves, reflectance), atol=0.01
    )
    text = text.replace("\t390\t", "\t395\t", 2).replace("\t395\t", "\t390\t", 1)
    with pytest.raises(ReferenceFileError, match="patch S1: its wavelengths are not those"):
        parse_reference(text.encode(), "pairs.txt")


@pytest.mark.parametrize(
    ("waves", "message"),
    [
        (np.arange(420, 731, 10.0), "must cover 400 to 700 nm (got 420 to 730)"),
        (np.arange(380, 691, 10.0), "must cover 400 to 700 nm (got 380 to 690)"),
        (np.array([380.0]), "must cover 400 to 700 nm"),
        (np.arange(375, 731, 10.0), "every 10 nm from 375 nm cannot be integrated"),
        (np.arange(380, 741, 15.0), "every 15 nm from 380 nm cannot be integrated"),
        (np.delete(np.arange(380, 731, 10.0), 4), "equal steps, each once (got steps of 10 to 20"),
        (np.repeat(np.arange(380, 731, 10.0), 2), "equal steps, each once (got steps of 0 to 10"),
    ],
)
def test_bands_that_cannot_be_integrated(waves: FloatArray, message: str) -> None:
    with pytest.raises(ReferenceFileError, match=re.escape(message)):
        xyz_from_reflectance(waves, np.ones((2, len(waves))), "file.txt")


def test_other_columns_are_no_bands() -> None:
    names = ["SAMPLE_ID", "LAB_L", "D_RED", "RGB_255", "12", "1900", "CMYK_400", "STDEV_500"]
    assert bands(names) == {}
