"""Reference files as a whole: reading, matching to a layout, writing, surviving damage."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab
from colormatch.errors import ReferenceFileError
from colormatch.files.references import (
    match_reference,
    parse_reference,
    read_reference,
    reference_text,
)
from colormatch.model import FloatArray, Layout, Mark, Patch, Reference
from tests.files.reference_files import GOOD, LAB, ROWS, expected_xyz, table_of


def _layout(*ids: str, name: str = "card") -> Layout:
    return Layout(
        name=name,
        width=100.0,
        height=20.0,
        marks=(Mark(id="M1", kind="eye", x=5, y=5, diameter=4),),
        patches=tuple(
            Patch(id=id_, x=10.0 * i, y=10, width=5, height=5) for i, id_ in enumerate(ids)
        ),
    )


def test_path_is_kept_and_named(tmp_path: Path) -> None:
    path = tmp_path / "mine.txt"
    path.write_text(GOOD)
    assert read_reference(path).path == path
    path.write_text(GOOD.replace("70.12", "seventy"))
    with pytest.raises(ReferenceFileError) as caught:
        read_reference(path)
    assert str(caught.value) == (
        f"{path}: line 14, patch A2: LAB_L is 'seventy', not a number: "
        "correct it or take the patch out"
    )


@pytest.mark.parametrize(
    "line",
    [
        'MEASUREMENT_SOURCE "nominal"',
        'MEASUREMENT_SOURCE "Nominal: asked of the printer"',
        'KEYWORD "VALUE_KIND"\nVALUE_KIND "nominal"',
        'DESCRIPTOR "nominal values of the card"',
    ],
)
def test_nominal_only_if_the_file_says_so(line: str) -> None:
    text = GOOD.replace('FILE_DESCRIPTOR\t"eight patches"', line)
    assert parse_reference(text.encode(), "file.txt").kind == "nominal"
    assert parse_reference(GOOD.encode(), "file.txt").kind == "measured"


def test_match_follows_the_layout_and_forgives_spelling() -> None:
    reference = parse_reference(GOOD.encode(), "file.txt")
    ids = ("b04", "A 1", "a3", "B001", "A2", "A4", "B2", "B3")
    matched = match_reference(reference, _layout(*ids))
    order = [list(LAB).index(id_) for id_ in ("B4", "A1", "A3", "B1", "A2", "A4", "B2", "B3")]
    assert matched.ids == ids
    np.testing.assert_array_equal(matched.xyz, reference.xyz[order])
    assert matched.notes == ()


def test_match_leaves_out_what_is_not_on_the_sheet_with_a_remark() -> None:
    reference = parse_reference(GOOD.encode(), "file.txt")
    matched = match_reference(reference, _layout("A1", "B2"))
    assert matched.xyz.shape == (2, 3)
    assert matched.notes == ("6 patches of the reference are not on card and were left out",)


@pytest.mark.parametrize(
    ("ids", "facts", "message"),
    [
        (("A1", "A2", "A3", "C1"), {}, "no values for 1 of 4 patches (C1): measure them too"),
        (
            tuple(f"P{i}" for i in range(9)),
            {},
            "no values for 9 of 9 patches (P0, P1, P2, P3, P4, ...): is it the reference of "
            "another sheet?",
        ),
        (("P1", "P2", "A1"), {"target": "post"}, "it is the reference of post, the sheet is card"),
        (("P1", "P2", "A1"), {"target": "card"}, "(P1, P2): is it the reference of another sheet?"),
    ],
)
def test_missing_patches(ids: tuple[str, ...], facts: dict[str, str], message: str) -> None:
    reference = parse_reference(GOOD.encode(), "file.txt")
    reference = replace(reference, facts=facts, path=Path("mine.txt"))
    with pytest.raises(ReferenceFileError, match=re.escape(message)) as caught:
        match_reference(reference, _layout(*ids))
    assert str(caught.value).startswith("mine.txt: no values for")


IDS = st.from_regex(r"[A-Z]{1,2}[1-9][0-9]?", fullmatch=True)
LABS = arrays(
    float,
    st.tuples(st.integers(1, 12), st.just(3)),
    elements=st.floats(-60, 60, width=32),
    fill=st.nothing(),
).map(lambda array: np.column_stack([np.abs(array[:, 0]) * 1.4 + 3, array[:, 1:]]))


@settings(max_examples=60, deadline=None)
@given(LABS, st.sampled_from(["measured", "nominal"]), st.text(max_size=20), st.data())
def test_written_files_read_back(
    labs: FloatArray, kind: str, fact: str, data: st.DataObject
) -> None:
    ids = data.draw(st.lists(IDS, min_size=len(labs), max_size=len(labs), unique=True))
    xyz = np.maximum(xyz_from_lab(labs), 0)
    xyz[0] = [0.9, 0.93, 0.75]
    reference = Reference(
        ids=tuple(ids), xyz=xyz, kind=kind, facts={"instrument": fact, "my note": "x"}
    )
    text = reference_text(reference, "card")
    read = parse_reference(text.encode(), "file.txt")
    assert read.ids == reference.ids
    assert read.kind == kind
    assert read.facts["target"] == "card"
    assert read.facts["my_note"] == "x"
    assert read.notes == ()
    np.testing.assert_allclose(lab_from_xyz(read.xyz), lab_from_xyz(xyz), atol=1e-4)


def test_written_files_have_all_words_the_standard_requires() -> None:
    # Source: the required words of ISO 28178, as the LittleCMS reader lists them.
    reference = Reference(ids=tuple(LAB), xyz=expected_xyz(), kind="measured")
    text = reference_text(reference, "card")
    required = ["ORIGINATOR", "FILE_DESCRIPTOR", "CREATED", "NUMBER_OF_FIELDS", "NUMBER_OF_SETS"]
    for word in required:
        assert re.search(rf"^{word} \S", text, re.MULTILINE), word
    assert "date" not in parse_reference(text.encode(), "file.txt").facts
    dated = replace(reference, facts={"date": "2024-05-06"})
    read = parse_reference(reference_text(dated, "card").encode(), "file.txt")
    assert read.facts["date"] == "2024-05-06"


@pytest.mark.skipif(not shutil.which("transicc"), reason="transicc (liblcms2-utils) is not here")
@pytest.mark.parametrize("direction", [("*XYZ", "*Lab"), ("*Lab", "*XYZ")])
def test_littlecms_reads_what_is_written(direction: tuple[str, str], tmp_path: Path) -> None:
    source, result = tmp_path / "in.txt", tmp_path / "out.txt"
    facts = {"instrument": 'the "blue" one, Müller', "condition": "M2", "my note": "x; y"}
    reference = Reference(ids=tuple(LAB), xyz=expected_xyz(), kind="nominal", facts=facts)
    source.write_text(reference_text(reference, "card 1"), encoding="utf-8")
    command = ["transicc", f"-i{direction[0]}", f"-o{direction[1]}", "-t1", "-c0"]
    subprocess.run([*command, source, result], check=True, capture_output=True)
    read = read_reference(result)
    assert read.ids == tuple(LAB)
    lab = direction[1] == "*Lab"
    found = lab_from_xyz(read.xyz) if lab else read.xyz
    # LittleCMS writes four significant digits.
    np.testing.assert_allclose(found, list(LAB.values()) if lab else expected_xyz(), rtol=5.1e-4)


SPECTRAL = table_of(
    " ".join(f"NM_{wave}" for wave in range(380, 731, 10)),
    np.random.default_rng(1).uniform(0.05, 0.9, (8, 36)),
)
XYY = np.column_stack(
    [expected_xyz()[:, :2] / expected_xyz().sum(axis=1)[:, None], expected_xyz()[:, 1]]
)
CARRIED = reference_text(
    Reference(
        ids=tuple(LAB), xyz=expected_xyz(), kind="carried over", sigma=np.full(len(LAB), 0.3)
    ),
    "card",
)
SEEDS = [
    GOOD,
    SPECTRAL,
    table_of(
        "XYZ_X XYZ_Y XYZ_Z LAB_L LAB_A LAB_B", np.hstack([100 * expected_xyz(), expected_xyz()])
    ),
    table_of("XYY_X XYY_Y XYY_CAPY", XYY),
    "id;L;a;b\n" + ROWS.replace("\t", ";").replace(".", ","),
    reference_text(Reference(ids=tuple(LAB), xyz=expected_xyz(), kind="nominal"), "card"),
    CARRIED,
    CARRIED.replace("END_DATA\n", CARRIED.split("BEGIN_DATA\n")[1]).replace("SETS 8", "SETS 16"),
]
PIECES = ["nan", "1e308", "-1e308", "1e-300", "-0", ",", ";", "\t", '"', "'", "#", "\n", "\r"]
PIECES += ["\x1a", "\0", "ÿ", "٣", "BEGIN_DATA", "END_DATA\n", "BEGIN_DATA_FORMAT", "KEYWORD"]
PIECES += ["LAB_L", "XYZ_Y", "STDEV_DE", "380", "9" * 400, "0.0", "-", "SAMPLE_NAME", " "]


@pytest.mark.parametrize("text", SEEDS)
def test_seeds_of_the_damage_are_sound(text: str) -> None:
    reference = parse_reference(text.encode(), "file.txt")
    assert reference.ids == tuple(LAB)
    if text != SPECTRAL:
        np.testing.assert_allclose(reference.xyz, expected_xyz(), atol=2e-5)


def _survives(data: bytes) -> None:
    """Read ``data``: either it is refused in one clear line, or the result is sound."""
    try:
        reference = parse_reference(data, "file.txt")
    except ReferenceFileError as error:
        message = str(error)
        if not (message.startswith("file.txt: ") and len(message) < 600 and "\n" not in message):
            raise AssertionError(f"unclear message: {message!r}") from error
        return
    assert np.isfinite(reference.xyz).all()
    assert reference.xyz.min() >= 0
    assert reference.xyz.max() < 10
    assert len(set(reference.ids)) == len(reference.ids) == len(reference.xyz) > 0


@settings(max_examples=150, deadline=2000)
@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    _survives(data)


@settings(max_examples=250, deadline=2000)
@given(
    st.sampled_from(SEEDS),
    st.lists(
        st.tuples(st.integers(0, 2000), st.integers(0, 12), st.sampled_from(PIECES)), max_size=4
    ),
    st.sampled_from(["utf-8", "utf-16", "latin-1"]),
)
def test_damaged_files_are_read_or_refused(
    text: str, cuts: list[tuple[int, int, str]], encoding: str
) -> None:
    for place, length, piece in cuts:
        start = place % len(text)
        text = text[:start] + piece + text[start + length :]
    _survives(text.encode(encoding, "replace"))
