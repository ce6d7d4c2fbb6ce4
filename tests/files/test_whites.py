"""Whether XYZ is for D50."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.science import colour_science
from colormatch.errors import ReferenceFileError
from colormatch.files.references import parse_reference
from colormatch.files.whites import check_white
from colormatch.model import FloatArray
from colormatch.standards import D50_XYZ
from tests.files.reference_files import GOOD, LAB, table_of

LABS = np.array(list(LAB.values()))


def _under(name: str) -> FloatArray:
    """Give the patches' XYZ if their Lab had been for another illuminant."""
    colour = colour_science()
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][name]
    return np.asarray(colour.Lab_to_XYZ(LABS, white))


@pytest.mark.parametrize("name", ["D65", "A"])
def test_xyz_for_another_white_is_refused(name: str) -> None:
    text = table_of("XYZ_X XYZ_Y XYZ_Z", 100 * _under(name))
    with pytest.raises(ReferenceFileError, match=f"neutral under illuminant {name}, not D50"):
        parse_reference(text.encode(), "other.txt")


def test_xyz_for_d50_passes_unremarked() -> None:
    text = table_of("XYZ_X XYZ_Y XYZ_Z", 100 * _under("D50"))
    assert parse_reference(text.encode(), "d50.txt").notes == ()


def test_bright_bluish_office_paper_is_still_paper() -> None:
    # Optical brightener, b* about -10: common practice, no source.
    colour = colour_science()
    xyz = colour.Lab_to_XYZ(np.array([[95, 2.5, -10], [50, 0, 0]]), [0.34570291, 0.3585386])
    assert check_white(np.asarray(xyz), "paper.txt") == ()


def test_tinted_lightest_patch_without_more_evidence_is_a_remark() -> None:
    xyz = np.array(D50_XYZ) * [[0.8, 0.8, 0.3], [0.2, 0.2, 0.2]]
    (note,) = check_white(xyz, "swatches.txt")
    assert note.startswith("the lightest patch is tinted (a* 0, b* ")


def test_dark_patches_alone_prove_nothing() -> None:
    assert check_white(0.3 * _under("D65"), "dark.txt") == ()


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ('ILLUMINANT "D65"', "the values are for illuminant D65"),
        ('WEIGHTING_FUNCTION "ILLUMINANT, D65"', "for illuminant D65"),
        ('WEIGHTING_FUNCTION "ILLUMINANT, A"', "for illuminant A"),
        ('WEIGHTING_FUNCTION "OBSERVER, 10 degree"', "for the 10 degree observer"),
        ('MEASUREMENT_SOURCE "Illumination=D65 ObserverAngle=2"', "for illuminant D65"),
        ('MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=10"', "for the 10 degree observer"),
        ('OBSERVER "10"', "for the 10 degree observer"),
    ],
)
def test_stated_white_that_is_not_d50_is_refused(line: str, message: str) -> None:
    text = GOOD.replace("CREATED", line + "\nCREATED")
    with pytest.raises(ReferenceFileError, match=message):
        parse_reference(text.encode(), "other.txt")


@pytest.mark.parametrize(
    "line",
    [
        'WEIGHTING_FUNCTION "ILLUMINANT, D50"\nWEIGHTING_FUNCTION "OBSERVER, 2 degree"',
        'MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2 WhiteBase=Abs Filter=No"',
        'COMPUTATIONAL_PARAMETER "FILTER, 10"',
    ],
)
def test_stated_d50_passes(line: str) -> None:
    text = GOOD.replace("CREATED", line + "\nCREATED")
    assert parse_reference(text.encode(), "d50.txt").notes == ()
