"""Layout files: what is read, what is refused, and in which words."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colormatch.errors import LayoutError
from colormatch.files.layouts import (
    layout_text,
    parse_layout,
    read_layout,
    shipped_charts,
    shipped_layouts,
    shipped_reference,
)
from colormatch.files.references import match_reference
from colormatch.model import Layout, Mark, Patch

GOOD = """
name = "card"
width = 100
height = 20.0

[[mark]]
id = "M1"
kind = "hoop"
x = 1.0
y = 2.0
width = 8.0
height = 8.0

[[mark]]
id = "M2"
kind = "eye"
x = 91
y = 2
width = 8
height = 8
""" + "".join(
    f'\n[[patch]]\nid = "A{i + 1}"\nx = {10 + 7 * i}.5\ny = 3.0\nwidth = 7.0\nheight = 6.25\n'
    for i in range(8)
)
LAST = 'id = "A8"\nx = 59.5\ny = 3.0\nwidth = 7.0\nheight = 6.25\n'


def test_reads_marks_by_centre_and_patches_by_corner() -> None:
    layout = parse_layout(GOOD.encode(), "card.toml")
    assert (layout.name, layout.width, layout.height) == ("card", 100.0, 20.0)
    assert layout.marks[0] == Mark(id="M1", kind="hoop", x=5.0, y=6.0, diameter=8.0)
    assert layout.patches[7] == Patch(
        id="A8", x=59.5, y=3.0, width=7.0, height=6.25, role="chromatic"
    )
    assert isinstance(layout.marks[1].x, float)


# What is changed in the good file, and what must be said about it.
BROKEN = [
    (GOOD, "", "has no [[patch]] and no [[grid]] entries"),
    (GOOD, "name = ", "not a TOML file: Invalid value (at"),
    (GOOD, "[" * 5000, "not a TOML file"),
    (GOOD, "a = " + "[" * 5000, "not a TOML file"),
    (GOOD, "width = " + "9" * 5000, "not a TOML file"),
    ("width = 100\n", "", "the top of the file: lacks width"),
    ("width = 100\n", "width = 1" + "0" * 400 + "\n", "width"),
    ("width = 100\n", "widht = 100\n", "unknown key 'widht': did you mean 'width'?"),
    ("width = 100\n", "width = 100\nzzz = 1\n", "unknown key 'zzz': known are name, width"),
    ("width = 100\n", "width = '100'\n", "width: expected a number, got text"),
    ("width = 100\n", "width = true\n", "width: expected a number, got bool"),
    ("width = 100\n", "width = inf\n", "width of the sheet must be a finite number"),
    ("width = 100\n", "width = 0\n", "width of the sheet must be above 0 mm (got 0)"),
    ("width = 100\n", "width = 90\n", "mark 2 (M2): reaches to 99, 10 mm, beyond the sheet of 90"),
    ('"card"', '" "', "name is empty"),
    ("[[mark]]", "[[marks]]", "unknown key 'marks': did you mean 'mark'?"),
    ("[[patch]]", "[[box]]", "unknown key 'box'"),
    (
        GOOD,
        'name = "a"\nwidth = 1\nheight = 1\nmark = []\npatch = []',
        "at least 6 patches (got 0)",
    ),
    (GOOD, 'name = "a"\nwidth = 1\nheight = 1\nmark = 3\npatch = []', "mark is no list of entries"),
    (GOOD, 'name = "a"\nwidth = 1\nheight = 1\nmark = [3]\npatch = []', "mark 1: expected object"),
    ('kind = "eye"\n', "", "mark 2 (M2): lacks kind"),
    ('"eye"', '"ring"', "mark 2 (M2), kind: must be 'hoop' or 'eye' (got 'ring')"),
    ('kind = "eye"\n', "kind = 5\n", "mark 2 (M2), kind: expected text, got int"),
    ("y = 2\nwidth = 8\n", "y = 2\nwidth = 7\n", "mark 2 (M2): a mark is round"),
    ('id = "M2"', 'id = "m01"', "mark 2 (m01): its id means the same as that of mark 1 (M1)"),
    ('id = "A8"', 'id = "a 1"', "patch 8 (a 1): its id means the same as that of patch 1 (A1)"),
    ('id = "A8"', 'id = " "', "patch 8: id is empty"),
    ('id = "A8"', 'ident = "A8"', "patch 8: unknown key 'ident'"),
    (LAST, LAST.replace("59.5", "nan"), "patch 8 (A8), x must be a finite number"),
    (LAST, LAST.replace("59.5", "-1.0"), "patch 8 (A8), x must be 0 or more mm (got -1)"),
    (LAST, LAST.replace("59.5", "58.5"), "patch 7 (A7) and patch 8 (A8) overlap"),
    (LAST, LAST.replace("59.5", "90.0"), "mark 2 (M2) and patch 8 (A8) overlap"),
    (LAST, LAST.replace("3.0", "14.0"), "patch 8 (A8): reaches to 66.5, 20.25 mm, beyond"),
    (LAST, LAST.replace("7.0", "-7.0"), "patch 8 (A8), width must be above 0 mm (got -7)"),
    (LAST, LAST + 'role = "grey"\n', "patch 8 (A8), role: invalid enum value 'grey'"),
    (LAST, LAST + 'roles = "paper"\n', "patch 8 (A8): unknown key 'roles': did you mean 'role'?"),
]


@pytest.mark.parametrize(("old", "new", "message"), BROKEN)
def test_broken_layouts_are_refused_with_the_item(old: str, new: str, message: str) -> None:
    assert old in GOOD
    text = GOOD.replace(old, new)
    with pytest.raises(LayoutError, match=re.escape(message)) as caught:
        parse_layout(text.encode(), "card.toml")
    assert str(caught.value).startswith("card.toml: ")
    assert "\n" not in str(caught.value)


def test_too_few_patches() -> None:
    text = "[[patch]]".join(GOOD.split("[[patch]]")[:6])
    with pytest.raises(LayoutError, match=r"need at least 6 patches \(got 5\)"):
        parse_layout(text.encode(), "card.toml")


def test_one_mark_is_not_enough() -> None:
    text = GOOD.replace(GOOD[GOOD.index('[[mark]]\nid = "M2"') : GOOD.index("\n[[patch]]")], "")
    with pytest.raises(LayoutError, match=r"need at least 2 marks \(got 1\)"):
        parse_layout(text.encode(), "card.toml")


def test_what_is_not_a_layout_file(tmp_path: Path) -> None:
    picture = tmp_path / "scan.tif"
    picture.write_bytes(b"II*\0\x08\0\0\0\xff\xd8\xff")
    with pytest.raises(LayoutError, match=r"scan\.tif: not a text file in UTF-8"):
        read_layout(picture)
    with pytest.raises(LayoutError, match=r"none\.toml: cannot read the layout \(No such file"):
        read_layout(tmp_path / "none.toml")
    with pytest.raises(LayoutError, match=r"cannot read the layout \(Is a directory"):
        read_layout(tmp_path)
    with pytest.raises(LayoutError, match="not a usable file name"):
        read_layout(tmp_path / "a\0b")
    picture.write_bytes(b"#" * 4_000_001)
    with pytest.raises(LayoutError, match="larger than 4000000 bytes"):
        read_layout(picture)


def test_byte_order_mark_is_no_hindrance() -> None:
    assert parse_layout(b"\xef\xbb\xbf" + GOOD.encode(), "card.toml").name == "card"


def test_text_states_every_box_from_the_top_left() -> None:
    table = tomllib.loads(layout_text(parse_layout(GOOD.encode(), "card.toml")))
    for box in table["mark"] + table["patch"]:
        assert box.keys() >= {"id", "x", "y", "width", "height"}
    assert table["mark"][0]["x"] == 1.0
    assert table["patch"][0]["x"] == 10.5


# Whole millionths of a millimetre, as a drawing program would use them.
MILLIONTHS = st.integers(0, 20_000_000).map(lambda n: n / 1e6)
LENGTH = st.integers(1, 9_000_000).map(lambda n: n / 1e6)


@settings(max_examples=60)
@given(
    st.text(min_size=1).filter(str.strip), st.lists(MILLIONTHS, min_size=16, max_size=16), LENGTH
)
def test_text_and_layout_are_one(name: str, jitter: list[float], size: float) -> None:
    def place(i: int) -> tuple[float, float]:
        return round(i % 4 * 30 + jitter[2 * i], 6), round(i // 4 * 30 + jitter[2 * i + 1], 6)

    layout = Layout(
        name=name,
        width=120.0,
        height=60.0,
        marks=tuple(
            Mark(id=f"M{i}", kind="hoop", x=round(x + 4.5, 6), y=round(y + 4.5, 6), diameter=size)
            for i, (x, y) in enumerate(place(k) for k in range(2))
        ),
        patches=tuple(
            Patch(id=f"{name[0]}{i}", x=x, y=y, width=size, height=size / 3, role="paper")
            for i, (x, y) in enumerate(place(k) for k in range(2, 8))
        ),
    )
    assert parse_layout(layout_text(layout).encode(), "made.toml") == layout


@settings(max_examples=100, deadline=None)
@given(st.integers(0, len(GOOD) - 1), st.integers(0, 30), st.text(max_size=8))
def test_damaged_files_are_read_or_refused(start: int, length: int, new: str) -> None:
    text = GOOD[:start] + new + GOOD[start + length :]
    try:
        layout = parse_layout(text.encode("utf-8", "replace"), "card.toml")
    except LayoutError:
        return
    again = parse_layout(layout_text(layout).encode(), "again.toml")
    assert layout_text(again) == layout_text(layout)


def test_shipped_layouts_are_called_like_their_files() -> None:
    folder = Path(__file__).parents[2] / "targets"
    shipped = {path.stem for path in folder.glob("*.toml")}
    assert shipped == set(shipped_layouts()) | set(shipped_charts())
    assert all(layout.marks for layout in shipped_layouts().values())


GROUND = '\n[[field]]\nid = "F1"\nx = 0\ny = 0\nwidth = 100\nheight = 20\nkind = "grey"\n'


def test_fields_may_lie_under_patches_and_come_back_from_the_text() -> None:
    layout = parse_layout((GOOD + GROUND).encode(), "card.toml")
    assert [(field.id, field.width, field.kind) for field in layout.fields] == [
        ("F1", 100.0, "grey")
    ]
    assert parse_layout(layout_text(layout).encode(), "card.toml") == layout


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"grey"', '"pink"', "field 1 (F1), kind"),
        ("width = 100\nheight = 20\n", "width = 101\nheight = 20\n", "field 1 (F1): reaches"),
        ("kind = ", "role = ", "field 1 (F1): unknown key 'role'"),
    ],
)
def test_refuses_a_field_that_cannot_be(old: str, new: str, words: str) -> None:
    with pytest.raises(LayoutError, match=re.escape(words)):
        parse_layout((GOOD + GROUND.replace(old, new)).encode(), "card.toml")


@pytest.mark.parametrize("name", sorted(shipped_layouts()))
def test_shipped_references_fit_their_layouts(name: str) -> None:
    layout = shipped_layouts()[name]
    reference = match_reference(shipped_reference(name), layout)
    assert reference.kind == "nominal"
    assert reference.ids == tuple(patch.id for patch in layout.patches)
    paper = [patch.role == "paper" for patch in layout.patches]
    assert reference.xyz[paper, 1].min() == pytest.approx(1, abs=0.2)


@pytest.mark.parametrize("name", ["strip-none", "../pyproject", "", "strip-long.txt"])
def test_no_other_reference_is_shipped(name: str) -> None:
    with pytest.raises(LayoutError, match="no shipped target is called"):
        shipped_reference(name)
