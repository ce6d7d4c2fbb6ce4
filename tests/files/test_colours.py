"""Which columns give the colour of a patch, and in which scale."""

from __future__ import annotations

import re

import numpy as np
import pytest

from colormatch.colour.science import colour_science
from colormatch.errors import ReferenceFileError
from colormatch.files.references import parse_reference
from colormatch.model import FloatArray
from tests.files.reference_files import GOOD, LAB, ROWS, expected_xyz, table_of

LABS = np.array(list(LAB.values()))
XYZ = "XYZ_X XYZ_Y XYZ_Z"


def _xyy() -> FloatArray:
    return np.asarray(colour_science().XYZ_to_xyY(expected_xyz()))


def _lch() -> FloatArray:
    return np.asarray(colour_science().models.Lab_to_LCHab(LABS))


@pytest.mark.parametrize(
    ("text", "notes"),
    [
        (table_of(XYZ, 100 * expected_xyz()), ()),
        (table_of(XYZ, expected_xyz()), ("XYZ taken as scaled to 1",)),
        (table_of("X Y Z", 100 * expected_xyz()), ()),
        (table_of("XYY_X XYY_Y XYY_CAPY", _xyy() * [1, 1, 100]), ()),
        (table_of("XYY_X XYY_Y XYY_CAPY", _xyy()), ("XYZ taken as scaled to 1",)),
        (table_of("x y Y", _xyy() * [1, 1, 100]), ()),
        (table_of("LAB_L LAB_C LAB_H", _lch()), ()),
        (table_of("LAB_L LAB_A LAB_B", LABS), ()),
        (table_of(f"LAB_L LAB_A LAB_B {XYZ}", np.hstack([LABS, 100 * expected_xyz()])), ()),
        (table_of("RGB_R RGB_G RGB_B LAB_L LAB_A LAB_B", np.hstack([-LABS, LABS])), ()),
    ],
)
def test_every_kind_of_column_gives_the_same(text: str, notes: tuple[str, ...]) -> None:
    reference = parse_reference(text.encode(), "file.txt")
    np.testing.assert_allclose(reference.xyz, expected_xyz(), atol=2e-5)
    assert reference.notes == notes


def test_what_disagrees_is_remarked_and_the_order_of_trust_kept() -> None:
    other = LABS.copy()
    other[6, 0] += 3
    text = table_of(f"LAB_L LAB_A LAB_B {XYZ}", np.hstack([other, 100 * expected_xyz()]))
    reference = parse_reference(text.encode(), "file.txt")
    np.testing.assert_allclose(reference.xyz, expected_xyz(), atol=2e-5)
    (note,) = reference.notes
    assert re.fullmatch(
        r"the XYZ columns were used; the Lab columns differ from them by up to "
        r"2\.\d ΔE2000 \(patch B3\)",
        note,
    )


def test_small_rounding_is_not_remarked() -> None:
    text = table_of(f"LAB_L LAB_A LAB_B {XYZ}", np.hstack([LABS.round(0), 100 * expected_xyz()]))
    assert parse_reference(text.encode(), "file.txt").notes == ()


def test_faulty_columns_that_are_not_needed_are_remarked() -> None:
    text = table_of(f"{XYZ} LAB_L LAB_A LAB_B", np.hstack([100 * expected_xyz(), LABS]))
    text = text.replace("\t-48\t", "\tnan\t")
    (note,) = parse_reference(text.encode(), "file.txt").notes
    assert "the XYZ columns were used; the Lab columns are faulty" in note
    assert "patch B2: LAB_A is 'nan'" in note


def test_names_are_preferred_to_numbers() -> None:
    rows = [f"{i}\t{name}" for i, name in enumerate(LAB, start=1)]
    text = table_of("SAMPLE_NAME LAB_L LAB_A LAB_B", LABS, tuple(rows))
    reference = parse_reference(text.encode(), "file.txt")
    assert reference.ids == tuple(LAB)
    assert reference.notes == ("SAMPLE_ID only counts: SAMPLE_NAME names patches",)


def test_numbers_are_names_if_there_is_nothing_better() -> None:
    text = table_of("LAB_L LAB_A LAB_B", LABS, tuple(map(str, range(8))))
    assert parse_reference(text.encode(), "file.txt").ids == tuple(map(str, range(8)))


def _with(row: tuple[float, float, float], columns: str = "LAB_L LAB_A LAB_B") -> str:
    values = 100 * expected_xyz() if "X" in columns else LABS.copy()
    values[3] = row
    return table_of(columns, values)


REFUSED = [
    (GOOD.replace("SAMPLE_ID", "REMARK"), "no column of patch names: name one SAMPLE_ID (has REM"),
    (
        GOOD.replace("LAB_A", "RGB_R"),
        "no complete XYZ, Lab or spectra among the columns (has SAMPL",
    ),
    (table_of("LAB_L LAB_A LAB_B LAB_L", LABS[:, [0, 1, 2, 0]]), "two columns are called LAB_L"),
    (GOOD.replace("\nA3\t", '\n""\t'), "line 15: the patch has no name"),
    (_with((120, 0, 0)), "line 9, patch A4: Lab out of range"),
    (_with((50, 0, -300)), "line 9, patch A4: Lab out of range"),
    (_with((-5, 0, 0)), "line 9, patch A4: Lab out of range"),
    (
        table_of("LAB_L LAB_A LAB_B", LABS / 100),
        "the largest L* is 0.95: export Lab with L* from 0",
    ),
    (table_of("LAB_L LAB_C LAB_H", -_lch()), "line 6, patch A1: LCh out of range"),
    (_with((-5, 4, 3), XYZ), "line 9, patch A4: XYZ below 0"),
    (_with((5, 4, 300), XYZ), "line 9, patch A4: XYZ beyond a scale of 100"),
    (table_of(XYZ, 2 * expected_xyz()), "the largest Y is 1.75"),
    (table_of(XYZ, 65535 * expected_xyz()), "cannot tell its scale"),
    (table_of(XYZ, -expected_xyz()), "XYZ below 0"),
    (_with((0.3, 0, 20), "XYY_X XYY_Y XYY_CAPY"), "line 6, patch A1: no possible chromaticity"),
    (table_of("380 390", abs(LABS[:, :2])), "spectra must cover 400 to 700 nm"),
]


@pytest.mark.parametrize(("text", "message"), REFUSED)
def test_values_that_cannot_be_are_refused(text: str, message: str) -> None:
    with pytest.raises(ReferenceFileError, match=re.escape(message)):
        parse_reference(text.encode(), "file.txt")


@pytest.mark.parametrize(
    ("value", "message"),
    [
        (-0.1, "line 9, patch A4: reflectance below 0"),
        (1.8, "the largest reflectance is 1.8: cannot tell whether 1 or 100"),
        (180, "line 9, patch A4: reflectance above 150 %"),
    ],
)
def test_reflectance_that_cannot_be(value: float, message: str) -> None:
    columns = " ".join(map(str, range(380, 731, 10)))
    values = np.full((8, 36), 0.5)
    values[3, 20] = value
    with pytest.raises(ReferenceFileError, match=re.escape(message)):
        parse_reference(table_of(columns, values).encode(), "file.txt")


def test_repeats_that_agree_are_averaged() -> None:
    text = GOOD.replace(ROWS, ROWS + "a01\t95\t0.5\t-1.8\n").replace("SETS\t8", "SETS\t9")
    reference = parse_reference(text.encode(), "file.txt")
    assert reference.ids == tuple(LAB)
    assert reference.notes[0].startswith("stated more than once and averaged: A1 (2 readings each")
    first = np.asarray(colour_science().Lab_to_XYZ([95, 0.5, -1.9], [0.34570291, 0.3585386]))
    np.testing.assert_allclose(reference.xyz[0], first, atol=1e-4)


def test_repeats_that_differ_are_refused() -> None:
    text = GOOD.replace(ROWS, ROWS + "a01\t90\t0.5\t-2\n").replace("SETS\t8", "SETS\t9")
    message = r"line 21, patch a01: differs by 3\.\d ΔE2000 from line 13, patch A1: keep the right"
    with pytest.raises(ReferenceFileError, match=message):
        parse_reference(text.encode(), "file.txt")
