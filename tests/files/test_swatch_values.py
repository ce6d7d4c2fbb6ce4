"""The table of paints: empty, filled in, filled in partly, and as others write it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from colormatch.colour.spaces import lab_from_xyz
from colormatch.drawing.swatch_layout import swatch_layout
from colormatch.errors import ReferenceFileError
from colormatch.files.references import reference_text
from colormatch.files.swatch_values import empty_table, known_boxes, read_swatch_values
from colormatch.model import Reference

SHEET = swatch_layout(24)


def filled(rows: dict[str, str]) -> str:
    lines = empty_table(SHEET).splitlines()
    return "\n".join(rows.get(line.split(",")[0], line) for line in lines)


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "swatches.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_table_filled_in_partly_gives_the_boxes_that_have_values(tmp_path: Path) -> None:
    text = filled({"P1": "P1,chalk white,95.1,-0.4,2.0", "P7": "P7,,41.0,52.5,30.0"})
    reference = read_swatch_values(written(tmp_path, text))
    assert reference.ids == ("P1", "P7")
    np.testing.assert_allclose(
        lab_from_xyz(reference.xyz), [[95.1, -0.4, 2.0], [41.0, 52.5, 30.0]], atol=1e-9
    )
    (note,) = [note for note in reference.notes if "left out" in note]
    assert "P2, P3" in note


def test_an_empty_table_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(ReferenceFileError, match="no box has values yet: have the painted"):
        read_swatch_values(written(tmp_path, empty_table(SHEET)))


@pytest.mark.parametrize(
    "text",
    [
        "id;paint;L;a;b\n1;ochre;60.5;12;40\n02;red;40;55;30\n3;;;;\n",
        "SAMPLE_ID\tLAB_L\tLAB_A\tLAB_B\nP01\t60.5\t12\t40\np 2\t40\t55\t30\n",
        "id,L,a,b,note\n1,60.5,12,40,thin\n2,40,55,30,\n3,,,,broken\n",
    ],
)
def test_bare_numbers_and_other_spellings_are_boxes(tmp_path: Path, text: str) -> None:
    reference = read_swatch_values(written(tmp_path, text))
    assert reference.ids == ("P1", "P2")


def test_the_open_exchange_form_is_read_as_well(tmp_path: Path) -> None:
    # ISO 28178.
    xyz = np.array([[0.3, 0.31, 0.2], [0.1, 0.12, 0.3]])
    text = reference_text(Reference(ids=("P3", "P9"), xyz=xyz, kind="measured"), "swatches")
    reference = read_swatch_values(written(tmp_path, text))
    assert reference.ids == ("P3", "P9")
    np.testing.assert_allclose(reference.xyz, xyz, atol=1e-6)


def test_nominal_values_are_no_paints(tmp_path: Path) -> None:
    text = reference_text(Reference(ids=("P3",), xyz=np.full((1, 3), 0.3), kind="nominal"), "x")
    with pytest.raises(ReferenceFileError, match="must be measured"):
        read_swatch_values(written(tmp_path, text))


@pytest.mark.parametrize(
    ("row", "words"), [("P1,ochre,60,,40", "line 5, patch P1"), ("P1,ochre,sixty,1,2", "line 5")]
)
def test_a_half_filled_line_is_named(tmp_path: Path, row: str, words: str) -> None:
    with pytest.raises(ReferenceFileError, match=words):
        read_swatch_values(written(tmp_path, filled({"P1": row})))


def test_boxes_and_values_meet_by_id_and_the_rest_is_left_out() -> None:
    xyz = np.arange(9.0).reshape(3, 3) / 10
    reference = Reference(ids=("P24", "P2", "P99"), xyz=xyz, kind="measured")
    layout, part = known_boxes(reference, SHEET)
    assert [patch.id for patch in layout.patches] == ["P2", "P24"]
    np.testing.assert_array_equal(part.xyz, xyz[[1, 0]])
    assert layout.marks == SHEET.marks
