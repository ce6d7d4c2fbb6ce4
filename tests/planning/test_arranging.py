"""Grids of tiles: properties for any painting and glass, and worked examples.

Sheet sizes are those of ISO 216 (A2 420 x 594, A3 297 x 420, A4 210 x 297 mm).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from colormatch.errors import InputError
from colormatch.job.plan import strip_sizes
from colormatch.placing.ordering import Order
from colormatch.planning.arranging import MARGIN, arrange
from colormatch.plans import Frame, Rectangle, Side, TileGrid, Wish

STRIPS = strip_sizes()
A4 = (216.0, 297.0)


@st.composite
def wishes(draw: st.DrawFn) -> Wish:
    side = st.floats(20.0, 1500.0)
    return Wish(
        painting=(draw(side), draw(side)),
        glass=(draw(st.floats(130.0, 320.0)), draw(st.floats(180.0, 450.0))),
        clear=draw(st.sampled_from([0.0, 12.0, 25.0])),
        overlap=draw(st.floats(5.0, 60.0)),
        frame=draw(st.sampled_from(list(Frame))),
    )


def planned(wish: Wish) -> TileGrid:
    try:
        return arrange(wish, STRIPS)
    except InputError:
        assume(False)
        raise


def apart(a: Rectangle, b: Rectangle) -> float:
    """Distance of two rectangles along the axis that separates them; below 0: they meet."""
    return max(
        a[0] - (b[0] + b[2]), b[0] - (a[0] + a[2]), a[1] - (b[1] + b[3]), b[1] - (a[1] + a[3])
    )


@settings(max_examples=200)
@given(wish=wishes(), spot=st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)))
def test_every_point_of_the_painting_is_in_a_tile(wish: Wish, spot: tuple[float, float]) -> None:
    grid = planned(wish)
    x, y = spot[0] * grid.lying[0], spot[1] * grid.lying[1]
    assert any(
        t.part[0] - 1e-6 <= x <= t.part[0] + t.part[2] + 1e-6
        and t.part[1] - 1e-6 <= y <= t.part[1] + t.part[3] + 1e-6
        for t in grid.tiles
    )


@settings(max_examples=200)
@given(wish=wishes())
def test_tiles_lie_on_the_glass_clear_of_its_start_and_of_the_strip(wish: Wish) -> None:
    grid = planned(wish)
    for tile in grid.tiles:
        x, y, width, height = tile.on_glass
        assert x >= -1e-6
        assert y >= wish.clear - 1e-6
        assert x + width <= wish.glass[0] + 1e-6
        assert y + height <= wish.glass[1] + 1e-6
        # The part on the glass is that part of the painting, wherever the painting lies.
        assert x - tile.painting_on_glass[0] == pytest.approx(tile.part[0], abs=1e-6)
        assert y - tile.painting_on_glass[1] == pytest.approx(tile.part[1], abs=1e-6)
        if tile.strip is not None:
            left, top, wide, tall = tile.strip.box
            assert apart(tile.strip.box, tile.painting_on_glass) >= grid.gap - 1e-6
            assert min(left, wish.glass[0] - left - wide) >= MARGIN - 1e-6
            assert min(top - wish.clear, wish.glass[1] - top - tall) >= MARGIN - 1e-6
            assert {wide, tall} == set(grid.strip_size)


@settings(max_examples=200)
@given(wish=wishes())
def test_neighbours_share_what_was_asked_and_order_is_what_merge_takes(wish: Wish) -> None:
    grid = planned(wish)
    order = Order(columns=grid.columns, rows=grid.rows)
    assert len(grid.tiles) == grid.columns * grid.rows
    at = {}
    for number, tile in enumerate(grid.tiles):
        assert order.cell(number) == (tile.column - 1, tile.row - 1)
        at[tile.column, tile.row] = tile
    assert sorted(t.name for t in grid.tiles) == [t.name for t in grid.tiles]
    for (column, row), tile in at.items():
        right, below = at.get((column + 1, row)), at.get((column, row + 1))
        if right is not None:
            assert tile.part[0] + tile.part[2] - right.part[0] >= wish.overlap - 1e-6
        if below is not None:
            assert tile.part[1] + tile.part[3] - below.part[1] >= wish.overlap - 1e-6


@settings(max_examples=100)
@given(wish=wishes())
def test_tiles_without_a_strip_are_only_those_without_an_edge_on_the_glass(wish: Wish) -> None:
    grid = planned(wish)
    assert len(grid.bare) < len(grid.tiles)
    for tile in grid.tiles:
        assert (tile.links == 0) == (tile.strip is not None)
        if tile.strip is None:
            continue
        inner = {
            Side.TOP: tile.row > 1,
            Side.BOTTOM: tile.row < grid.rows,
            Side.LEFT: tile.column > 1,
            Side.RIGHT: tile.column < grid.columns,
        }
        assert not inner[tile.strip.side]


def test_a_painting_smaller_than_the_glass_is_one_scan() -> None:
    grid = arrange(Wish(painting=(180.0, 240.0), frame=Frame.PAPER), STRIPS)
    assert (grid.columns, grid.rows, grid.turned) == (1, 1, False)
    assert grid.overlaps == (None, None)
    assert grid.tiles[0].hangs == {}


@pytest.mark.parametrize(
    ("painting", "cells"), [((260.0, 200.0), (2, 1)), ((200.0, 297.0), (1, 2))]
)
def test_a_painting_that_exceeds_the_glass_in_one_direction_is_split_in_that_alone(
    painting: tuple[float, float], cells: tuple[int, int]
) -> None:
    grid = arrange(Wish(painting=painting, frame=Frame.PAPER), STRIPS)
    across = (grid.rows, grid.columns) if grid.turned else (grid.columns, grid.rows)
    assert across == cells
    assert grid.bare == ()


def test_the_start_of_the_glass_stays_free_where_that_takes_no_more_tiles() -> None:
    tall = Wish(painting=(158.0, 320.0), glass=(190.0, 215.0), frame=Frame.PAPER)
    grid = arrange(tall, STRIPS)
    assert (grid.columns, grid.rows, grid.turned) == (2, 1, True)
    assert not any(tile.covers_start for tile in grid.tiles)
    # Where nothing needs to stay free the painting lies upright.
    free = arrange(replace(tall, clear=0.0), STRIPS)
    assert (free.columns, free.rows, free.turned) == (1, 2, False)


def test_an_a3_sheet_on_an_a4_glass_by_hand() -> None:
    """Lying across: 420 mm in columns, 297 mm in rows.

    Columns, strips at top and bottom: 5 + 206 and 206 + 5 mm at the ends are 422 - 30 =
    392 < 420, so three. Rows: the 272 mm behind the start less 27 for strip and gaps,
    twice, less 30: 460 >= 297, so two: six tiles. Upright: two columns (392 >= 297) and
    two rows (460 >= 420): four.
    """
    grid = arrange(Wish(painting=(297.0, 420.0), frame=Frame.PAPER), STRIPS)
    assert (grid.columns, grid.rows, grid.turned) == (2, 2, False)
    assert grid.bare == ()
    assert grid.strip == "strip-long"
    assert {t.strip.side for t in grid.tiles if t.strip} == {Side.TOP, Side.BOTTOM}
    # Widths 211 and 211 share 30 % of 211 at most.
    assert grid.overlaps[0] == pytest.approx(63.3)
    # Heights 245 and 245: 490 - 420.
    assert grid.overlaps[1] == pytest.approx(70.0)
    first = grid.tiles[0]
    assert first.painting_on_glass[1] == pytest.approx(25 + 2 + 22 + 3 + 0.0)
    assert first.hangs["bottom"] == pytest.approx(52 + 420 - 297)


def test_the_middle_of_a_large_painting_has_no_edge_for_a_strip() -> None:
    grid = arrange(Wish(painting=(500.0, 700.0)), STRIPS)
    assert len(grid.bare) == 2
    assert {t.links for t in grid.bare} == {1}
    larger = arrange(Wish(painting=(500.0, 700.0), glass=(297.0, 420.0)), STRIPS)
    assert larger.bare == ()


def test_the_short_strip_is_taken_where_the_long_one_does_not_fit() -> None:
    grid = arrange(Wish(painting=(100.0, 100.0), glass=(150.0, 200.0)), STRIPS)
    assert grid.strip == "strip-short"


def test_cloth_over_the_strip_needs_more_room_beside_it_than_paper() -> None:
    cloth = arrange(Wish(painting=(150.0, 150.0), frame=Frame.STRETCHED), STRIPS)
    paper = arrange(Wish(painting=(150.0, 150.0), frame=Frame.PAPER), STRIPS)
    assert cloth.gap > paper.gap


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"overlap": 250.0}, "ask for less with --overlap"),
        ({"glass": (80.0, 90.0)}, "too small for the shortest strip"),
        ({"glass": (36.0, 130.0), "clear": 0.0}, "no room for a strip and a painting"),
        ({"painting": (0.0, 100.0)}, "give width and height"),
        ({"painting": (float("inf"), 100.0)}, "give width and height"),
        ({"painting": (20_000.0, 20_000.0)}, "more than 99 tiles"),
        ({"ppi": 0.0}, "600 for originals"),
        ({"ppi": float("nan")}, "600 for originals"),
        ({"overlap": 0.0}, "without an overlap"),
        ({"overlap": -3.0}, "0 mm or more"),
        ({"clear": 300.0}, "--clear"),
    ],
)
def test_what_cannot_be_done_is_a_sentence_with_the_way_out(
    changes: dict[str, object], said: str
) -> None:
    wish = Wish(**{"painting": (500.0, 700.0), **changes})  # type: ignore[arg-type]
    with pytest.raises(InputError, match=said):
        arrange(wish, STRIPS)
