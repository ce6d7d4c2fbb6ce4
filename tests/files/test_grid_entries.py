"""Grids in layout files: which patches they make, and what is refused."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.errors import LayoutError
from colormatch.files.grid_entries import counted
from colormatch.files.layouts import layout_text, parse_layout, shipped_charts
from colormatch.model import Layout, Patch

GRID = """
name = "tin-card"
width = 110.0
height = 45.0

[[grid]]
rows = 4
columns = 12
x = 7.0
y = 6.5
pitch = 8.0
width = 7.0
height = 6.0
"""


def read(text: str) -> Layout:
    return parse_layout(text.encode(), "card.toml")


def test_a_grid_is_its_patches_row_by_row() -> None:
    layout = read(GRID)
    assert layout.marks == ()
    assert [patch.id for patch in layout.patches[:13:12]] == ["A1", "B1"]
    assert layout.patches[-1] == Patch(
        id="D12", x=95.0, y=30.5, width=7.0, height=6.0, role="unstated"
    )
    assert read(layout_text(layout)) == layout


def test_left_out_patch_size_is_the_pitch() -> None:
    text = GRID.replace("width = 7.0\nheight = 6.0\n", "").replace("= 8.0", "= [8.0, 9.5]")
    layout = read(text)
    assert (layout.patches[13].x, layout.patches[13].y) == (15.0, 16.0)
    assert (layout.patches[13].width, layout.patches[13].height) == (8.0, 9.5)


@pytest.mark.parametrize(
    ("extra", "ids"),
    [
        ('id = "{row}{column}"\nfirst_column = "01"\n', ("A01", "A02", "A12", "D12")),
        ('id = "{column}{row}"\nfirst_column = "A"\nfirst_row = "1"', ("A1", "B1", "L1", "L4")),
        ('id = "{number}"\nfirst_number = "001"\n', ("001", "002", "012", "048")),
        ('id = "P-{number}"\nfirst_number = "0"\n', ("P-0", "P-1", "P-11", "P-47")),
        ('first_row = "c"\nfirst_column = "98"\n', ("c98", "c99", "c109", "f109")),
    ],
)
def test_ids_follow_the_pattern(extra: str, ids: tuple[str, ...]) -> None:
    layout = read(GRID + extra)
    assert tuple(layout.patches[i].id for i in (0, 1, 11, 47)) == ids


def test_several_grids_and_single_patches_go_together() -> None:
    scale = (
        '\n[[grid]]\nrows = 1\ncolumns = 4\nx = 7\ny = 40\npitch = 4\nid = "GS{column}"\n'
        'first_column = "00"\nrole = "neutral"\n'
        '\n[[patch]]\nid = "white"\nx = 103.5\ny = 40\nwidth = 4\nheight = 4\nrole = "paper"\n'
    )
    layout = read(GRID + scale)
    assert [p.id for p in layout.patches if p.role == "neutral"] == ["GS00", "GS01", "GS02", "GS03"]
    assert layout.patches[0].id == "white"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("rows = 4", "rows = 0", "grid 1: rows must be 1 to 200 (got 0)"),
        ("columns = 12", "columns = 900", "grid 1: columns must be 1 to 200 (got 900)"),
        ("columns = 12", "columns = 1.5", "grid 1, columns: expected int, got a number"),
        ("rows = 4\n", "", "grid 1: lacks rows"),
        ("rows = 4", "row = 4", "grid 1: unknown key 'row': did you mean 'rows'?"),
        ("pitch = 8.0", "pitch = 0", "grid 1: its pitch across must be above 0 mm (got 0)"),
        ("pitch = 8.0", "pitch = [8, nan]", "grid 1: its pitch down must be above 0 mm (got nan)"),
        ("pitch = 8.0", "pitch = 6.0", "grid 1: a patch's width of 7 mm is more than the pitch"),
        ("width = 7.0", "width = -1", "grid 1: width of a patch must be above 0 mm (got -1)"),
        ("x = 7.0", "x = 20.0", "grid 1, patch A12: reaches to 115, 12.5 mm, beyond the sheet"),
        ("x = 7.0", 'x = 7.0\nid = "{row}"', "gives all patches of a row one id: put {column}"),
        ("x = 7.0", 'x = 7.0\nid = "{line}1"', "its id pattern has '{line}': known are {row}"),
        ("x = 7.0", 'x = 7.0\nid = "{row"', "its id pattern has '{row': known are {row}"),
        ("x = 7.0", 'x = 7.0\nfirst_row = "A1"', "first_row must be letters of one case or"),
        ("x = 7.0", 'x = 7.0\nfirst_row = ""', "first_row must be letters of one case or"),
        ("x = 7.0", 'x = 7.0\nrole = "grey"', "grid 1, role: invalid enum value 'grey'"),
        ("x = 7.0", "x = inf", "grid 1, patch A1, x must be a finite number of millimetres"),
    ],
)
def test_refuses_grids_that_cannot_be(old: str, new: str, message: str) -> None:
    assert old in GRID
    with pytest.raises(LayoutError, match=re.escape(message)) as caught:
        read(GRID.replace(old, new))
    assert str(caught.value).startswith("card.toml: ")


def test_two_grids_may_not_share_an_id_or_a_place() -> None:
    again = GRID[GRID.index("[[grid]]") :]
    with pytest.raises(LayoutError, match=r"grid 2, patch A1: its id means the same as that of"):
        read(GRID + again)
    with pytest.raises(LayoutError, match=r"grid 1, patch A1 and grid 2, patch X1 overlap"):
        read(GRID + again + 'first_row = "X"\n')


def test_a_slip_in_rows_is_no_endless_wait() -> None:
    grid = '\n[[grid]]\nrows = 200\ncolumns = 20\nx = 0\ny = 0\npitch = 0.1\nfirst_row = "ZZ"\n'
    with pytest.raises(LayoutError, match="more than 3000 patches"):
        read(GRID + grid + grid)


@given(st.integers(0, 20_000))
def test_letters_count_like_figures_without_a_zero(steps: int) -> None:
    # Bijective base 26: the value of the name is one more than the steps from A.
    value = 0
    for letter in counted("A", steps):
        value = 26 * value + ord(letter) - 64
    assert value == steps + 1
    assert counted("a", steps) == counted("A", steps).lower()
    assert int(counted("007", steps)) == steps + 7


def test_the_shipped_arrangement_has_the_samples_that_iso_12641_files_list() -> None:
    # 288 samples, A01 to L22 and GS00 to GS23: sample lists of public reference files.
    layout = shipped_charts()["iso-12641-1"]
    wanted = [f"{row}{column:02d}" for row in "ABCDEFGHIJKL" for column in range(1, 23)]
    assert [patch.id for patch in layout.patches[:264]] == wanted
    assert [patch.id for patch in layout.patches[264:]] == [f"GS{i:02d}" for i in range(24)]
    assert {patch.role for patch in layout.patches[264:]} == {"neutral"}
