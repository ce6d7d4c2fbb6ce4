"""The grid's geometry and the boxes of tiles."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.joining.records import Box, Grid, overlap, pairs_of
from tests.joining.scenes import canvas_of, cut


def test_grid_pixels_stand_for_the_middle_of_their_canvas_pixels() -> None:
    turn = np.array([[0.0, -0.05, 40.0], [0.05, 0.0, 7.0]])
    grid = Grid(canvas_height=101, canvas_width=80, step=8, mm_from_canvas=turn)
    assert (grid.height, grid.width) == (13, 10)
    assert grid.pixel == pytest.approx(0.4)
    assert grid.canvas_of(np.array([0, 1])) == pytest.approx([3.5, 11.5])
    assert grid.mm_of(np.array([0.0, 1.0])) == pytest.approx([40 - 0.05 * 11.5, 7 + 0.05 * 3.5])
    places = np.random.default_rng(1).uniform(0, 80, (5, 2))
    assert grid.canvas_of_mm(grid.mm_of_canvas(places)) == pytest.approx(places)


def test_boxes_share_what_lies_in_both() -> None:
    first = Box(top=2, bottom=9, left=3, right=8)
    second = Box(top=5, bottom=12, left=0, right=5)
    shared = first.shared(second)
    assert shared == Box(top=5, bottom=9, left=3, right=5)
    assert second.shared(first) == shared
    whole = np.arange(15 * 10).reshape(15, 10)
    assert (whole[first.slices][shared.within(first)] == whole[shared.slices]).all()
    assert first.shared(Box(top=9, bottom=12, left=3, right=8)) is None


def test_pairs_are_those_that_show_a_common_place() -> None:
    light = np.full((160, 320, 3), 0.3, np.float32)
    boxes = [(0, 160, 0, 160), (0, 160, 80, 240), (0, 160, 240, 320)]
    tiles = canvas_of(cut(light, boxes)).tiles
    assert [pair[:2] for pair in pairs_of(tiles)] == [(0, 1)]
    shared = overlap(tiles[0], tiles[1])
    assert shared is not None
    assert shared[1].sum() == 10 * 20
