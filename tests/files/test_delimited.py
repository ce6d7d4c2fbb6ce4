"""Plain tables."""

from __future__ import annotations

import re

import numpy as np
import pytest

from colormatch.errors import ReferenceFileError
from colormatch.files.delimited import parse_delimited
from colormatch.files.references import parse_reference
from tests.files.reference_files import LAB, expected_xyz


def _write(mark: str, head: str = "id L a b", comma: bool = False) -> str:
    rows = [[name, *(f"{value:g}" for value in lab)] for name, lab in LAB.items()]
    text = "\n".join(mark.join(cells) for cells in [head.split(" "), *rows])
    return text.replace(".", ",") if comma else text


@pytest.mark.parametrize(
    "text",
    [
        _write(","),
        _write(";"),
        _write("\t"),
        _write(" "),
        _write(", "),
        _write("   "),
        _write(",").replace("\n", "\n\n"),
        "# made by hand\n" + _write(","),
        _write(",", "Sample_ID L* a* b*"),
        _write(",", "patch CIE_L CIE_A CIE_B"),
        _write(",", "SAMPLE_NAME LAB_L LAB_A LAB_B"),
        _write(";").replace("A1;", '"A1";'),
        _write(";").replace("\n", ";;\n") + ";;;;;;",
    ],
)
def test_separators_and_names(text: str) -> None:
    reference = parse_reference(text.encode(), "plain.csv")
    assert reference.ids == tuple(LAB)
    assert reference.notes == ()
    np.testing.assert_allclose(reference.xyz, expected_xyz(), atol=2e-5)


@pytest.mark.parametrize("mark", [";", "\t", " "])
def test_decimal_commas(mark: str) -> None:
    reference = parse_reference(_write(mark, comma=True).encode(), "plain.csv")
    np.testing.assert_allclose(reference.xyz, expected_xyz(), atol=2e-5)
    assert reference.notes == ("decimal commas were read as decimal points",)


def test_quoted_decimal_commas_between_commas() -> None:
    text = _write(";", comma=True).replace(";", '","').replace("\n", '"\n"')
    reference = parse_reference(f'"{text}"'.encode(), "plain.csv")
    np.testing.assert_allclose(reference.xyz, expected_xyz(), atol=2e-5)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "id,L,a,b\nA1,50,5,2,5,1,5\n",
            "line 2: 7 values where the first line names 4 columns: i",
        ),
        ("id;L;a;b\nA1;50;2\n", "line 2: 3 values where the first line names 4 columns: one is"),
        ("id,L,a,b\n", "no values below the names of the columns"),
        ("Dear sir,\nplease find\n", "neither a table nor in the form of ISO 28178"),
        ("# only a remark\n", "no values in the file"),
        ("id,L,a,b\n" + "A,1,1,1\n" * 20001, "20001 rows of 4 columns, more than any sheet has"),
        ("id,L,a,b\nA1," + "9" * 200_000 + ",1,1\n", "line 2: cannot be split into cells"),
    ],
)
def test_what_is_no_table_is_refused(text: str, message: str) -> None:
    with pytest.raises(ReferenceFileError, match=re.escape(message)):
        parse_delimited(text.split("\n"), "plain.csv")
