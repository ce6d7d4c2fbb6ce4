"""The open text exchange form, as programs really write it."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pytest

from colormatch.errors import ReferenceFileError
from colormatch.files.cgats import is_cgats, parse_cgats
from colormatch.files.references import parse_reference
from tests.files.reference_files import GOOD, HEAD, LAB, ROWS, expected_xyz


def _lines(text: str) -> list[str]:
    return text.split("\n")


def test_good_file_has_no_remarks() -> None:
    reference = parse_reference(GOOD.encode(), "good.txt")
    assert reference.ids == tuple(LAB)
    assert reference.notes == ()
    assert reference.kind == "measured"
    assert reference.facts["instrument"] == "a spectrophotometer"
    assert reference.facts["backing"] == "black"
    assert reference.facts["date"] == "2024-05-06"
    np.testing.assert_allclose(reference.xyz, expected_xyz(), atol=2e-5)


def _wrapped(text: str) -> str:
    return text.replace(ROWS, re.sub(r"\t(\S+)\t(\S+)\n", r"\t\1\n   \2\n", ROWS))


def _filled(text: str) -> str:
    tokens = ROWS.split()
    lines = [" ".join(tokens[i : i + 5]) for i in range(0, len(tokens), 5)]
    return text.replace(ROWS, "\n".join(lines) + "\n")


# Ways to write the same file that must read the same, and the remark each gets.
# Sources: ISO 28178 / CGATS.17 grammar as LittleCMS reads it; the rest is common practice.
VARIANTS: list[tuple[str, Callable[[str], str | bytes], str]] = [
    ("spaces for tabs", lambda t: t.replace("\t", "   "), ""),
    ("tabs and spaces mixed", lambda t: t.replace("\t", " \t  "), ""),
    ("blanks before the lines", lambda t: t.replace("\n", "\n  "), ""),
    ("CR line ends", lambda t: t.replace("\n", "\r"), ""),
    ("CRLF line ends", lambda t: t.replace("\n", "\r\n"), ""),
    ("empty lines between", lambda t: t.replace("\n", "\n\n"), ""),
    ("UTF-8 mark", lambda t: b"\xef\xbb\xbf" + t.encode(), ""),
    ("UTF-16 little-endian", lambda t: b"\xff\xfe" + t.encode("utf-16-le"), ""),
    ("UTF-16 big-endian", lambda t: b"\xfe\xff" + t.encode("utf-16-be"), ""),
    ("UTF-16 unmarked", lambda t: t.encode("utf-16-le"), ""),
    ("UTF-16 big-endian unmarked", lambda t: t.encode("utf-16-be"), ""),
    ("UTF-32", lambda t: t.encode("utf-32"), ""),
    ("Latin-1 header", lambda t: t.replace("a test", "Müller").encode("latin-1"), "Latin-1"),
    ("UTF-8 header", lambda t: t.replace("a test", "Müller 測色"), ""),
    ("Ctrl-Z at the end", lambda t: t + "\x1a", ""),
    ("Ctrl-Z and padding", lambda t: t.encode() + b"\x1a" + b"\0" * 40, ""),
    ("Ctrl-Z and more", lambda t: t + "\x1amore text", "after the Ctrl-Z"),
    ("lower case", lambda t: re.sub(r"[A-Z_]{4,}", lambda m: m[0].lower(), t), ""),
    ("double quotes", lambda t: re.sub(r"^([AB]\d)", r'"\1"', t, flags=re.M), ""),
    ("single quotes", lambda t: re.sub(r"^([AB]\d)", r"'\1'", t, flags=re.M), ""),
    ("quoted numbers", lambda t: t.replace("70.12", '"70.12"'), ""),
    ("comments", lambda t: t.replace("\n", " # remark A9 1 2 3\n"), ""),
    ("comment lines", lambda t: t.replace("\n", "\n# BEGIN_DATA\n"), ""),
    ("sets over two lines", _wrapped, ""),
    ("lines filled up with sets", _filled, ""),
    ("two sets on a line", lambda t: t.replace("\nA2", "\tA2").replace("\nB3", " B3"), ""),
    ("wrapped column names", lambda t: t.replace("LAB_L\t", "LAB_L\n"), ""),
    ("marks on the same line", lambda t: t.replace("_FORMAT\n", "_FORMAT "), ""),
    ("first set beside BEGIN_DATA", lambda t: t.replace("BEGIN_DATA\nA1", "BEGIN_DATA A1"), ""),
    ("last set before END_DATA", lambda t: t.replace("\nEND_DATA\n", " END_DATA\n"), ""),
    ("exponents", lambda t: t.replace("70.12", "7.012e1").replace("-0.2", "-2E-1"), ""),
    ("no leading zero", lambda t: t.replace("\t0.5", "\t.5").replace("-0.2", "-.2"), ""),
    ("trailing point", lambda t: t.replace("\t95\t", "\t95.\t"), ""),
    ("plus signs", lambda t: t.replace("\t95\t", "\t+95\t"), ""),
    ("no END_DATA", lambda t: t.replace("END_DATA\n", ""), "END_DATA is missing"),
    (
        "no END_DATA_FORMAT",
        lambda t: t.replace("END_DATA_FORMAT\n", ""),
        "END_DATA_FORMAT is missing",
    ),
    (
        "too many sets stated",
        lambda t: t.replace("SETS\t8", "SETS\t9"),
        "says '9', but there are 8",
    ),
    ("no number of sets", lambda t: t.replace("SETS\t8", "SETS\tmany"), "says 'many', but there"),
    (
        "huge number of sets",
        lambda t: t.replace("SETS\t8", "SETS\t" + "9" * 5000),
        "but there are 8",
    ),
    (
        "too few fields stated",
        lambda t: t.replace("FIELDS\t4", "FIELDS\t3"),
        "says '3', but there are 4",
    ),
    ("no counts", lambda t: re.sub(r"NUMBER_OF_\w+\t\d\n", "", t), ""),
    ("no first line", lambda t: t.replace("CGATS.17\n", ""), ""),
    ("another first line", lambda t: t.replace("CGATS.17", "IT8.7/2"), ""),
    (
        "unknown header words",
        lambda t: t.replace("CREATED", "LUNCH\tsoup with 'bread\nCREATED"),
        "",
    ),
    (
        "repeated words",
        lambda t: t.replace("CREATED", "WEIGHTING_FUNCTION x\nWEIGHTING_FUNCTION y\nCREATED"),
        "",
    ),
    ("decimal commas", lambda t: t.replace(ROWS, ROWS.replace(".", ",")), "decimal commas"),
    (
        "a table without colours",
        lambda t: (
            t + "X\nBEGIN_DATA_FORMAT\nSAMPLE_ID RGB_R\nEND_DATA_FORMAT\n"
            "BEGIN_DATA\nA1 3\nEND_DATA\n"
        ),
        "1 of 2 tables state no colours",
    ),
    (
        "the same table twice",
        lambda t: t + t,
        "stated more than once and averaged: A1, A2, A3, A4, B1 and 3 more",
    ),
    ("header words at the end", lambda t: t + "SERIAL 5\n", ""),
]


@pytest.mark.parametrize(("name", "write", "remark"), VARIANTS, ids=[v[0] for v in VARIANTS])
def test_variants_read_the_same(
    name: str, write: Callable[[str], str | bytes], remark: str
) -> None:
    written = write(GOOD)
    data = written if isinstance(written, bytes) else written.encode()
    reference = parse_reference(data, f"{name}.txt")
    assert reference.ids == tuple(LAB)
    np.testing.assert_allclose(reference.xyz, expected_xyz(), atol=2e-5)
    if remark:
        assert len(reference.notes) == 1
        assert remark in reference.notes[0]
    else:
        assert reference.notes == ()


def test_tables_may_share_out_the_patches() -> None:
    first = HEAD + "".join(ROWS.splitlines(keepends=True)[:3]) + "END_DATA\n"
    second = HEAD + "".join(ROWS.splitlines(keepends=True)[3:]) + "END_DATA\n"
    text = first.replace("SETS\t8", "SETS\t3") + second.replace("SETS\t8", "SETS\t5")
    reference = parse_reference(text.encode(), "sheets.txt")
    assert reference.ids == tuple(LAB)
    assert reference.notes == ()


def test_rows_know_their_lines() -> None:
    (table,) = parse_cgats(_lines(_wrapped(GOOD)), "wrapped.txt")
    assert table.lines == tuple(range(13, 29, 2))
    assert table.rows[2] == ("A3", "50.25", "-0.2", "0.3")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("BEGIN_DATA_FORMAT\n", "", "BEGIN_DATA_FORMAT with the names of the columns is missing"),
        ("BEGIN_DATA\n", "", "no values between BEGIN_DATA and END_DATA"),
        (ROWS, "", "no values between BEGIN_DATA and END_DATA"),
        ("END_DATA\n", "BEGIN_DATA\n", "line 21: BEGIN_DATA inside the data"),
        ("END_DATA\n", "BEGIN_DATA_FORMAT\n", "line 21: a new table begins inside the data"),
        ("END_DATA\n", GOOD, "line 28: a new table begins inside the data"),
        ("A3\t50.25", "A3", "line 15, patch 'A3': 3 values where the format names 4 columns"),
        ("A3\t50.25", "A3\t", "line 15, patch 'A3': a value is empty"),
        ("A3\t50.25", "A3\t50.25\t1", "line 15, patch 'A3': 5 values where the format names 4"),
        ("B4\t85.5", "B4", "line 20, patch 'B4': 3 values where the format names 4 columns"),
    ],
)
def test_what_cannot_be_sorted_out_is_refused(old: str, new: str, message: str) -> None:
    text = GOOD.replace(old, new)
    assert text != GOOD
    with pytest.raises(ReferenceFileError, match=re.escape(message)):
        parse_cgats(_lines(text), "bad.txt")


def test_sizes_beyond_any_sheet_are_refused_at_once() -> None:
    text = GOOD.replace(ROWS, ("1 " * 40_000 + "\n") * 10)
    with pytest.raises(ReferenceFileError, match="400000 values in 4 columns, more than any sheet"):
        parse_cgats(_lines(text), "big.txt")
    text = GOOD.replace("LAB_A", "LAB_A " * 3000)
    with pytest.raises(ReferenceFileError, match="32 values in 3003 columns, more than any sheet"):
        parse_cgats(_lines(text), "wide.txt")


def test_a_slip_with_counting_ids_does_not_shift_the_rest() -> None:
    # One value too few in one row, one too many in another: the total fits.
    text = re.sub(r"^[AB](\d)", r"1\1", GOOD, flags=re.M)
    text = text.replace("50.25\t", "").replace("45\t60.5", "45\t45\t60.5")
    with pytest.raises(ReferenceFileError, match="line 15, patch '13': 3 values"):
        parse_cgats(_lines(text), "bad.txt")


def test_is_told_from_other_text_by_its_marks() -> None:
    assert is_cgats(_lines(GOOD))
    assert is_cgats(["begin_data"])
    assert not is_cgats(["id,L,a,b", "BEGIN_DATABASE,1,2,3"])
