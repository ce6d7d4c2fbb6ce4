"""Hints at dark rims that one tile alone shows."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.joining.edges import darker_edges
from tests.joining.scenes import MM, STEP, Array, canvas_of, ground, side_by_side, textured


def rim(tile: Array, depth: float, rows: slice) -> None:
    """Darken the left edge of a tile over 1 mm."""
    distance = np.arange(tile.shape[1]) * MM
    tile[rows] *= (1 - depth * np.exp(-distance))[:, None].astype(np.float32)


def test_a_dark_rim_that_one_tile_alone_shows_is_told() -> None:
    light = ground(np.random.default_rng(1), 2400, 1600)
    tiles = side_by_side(light, (600, 1000))
    rim(tiles[0], 0.3, slice(None))
    canvas = canvas_of(tiles)
    remarks = darker_edges(canvas.grid, canvas.tiles)
    assert len(remarks) == 1
    assert remarks[0].kind == "edge"
    assert remarks[0].tiles == ("tile0.tif",)
    # Five grid pixels lie in the outermost 2 mm; the median is that of the third.
    assert remarks[0].depth == pytest.approx(0.3 * np.exp(-2.5 * STEP * MM), abs=0.01)
    assert remarks[0].place[1] == pytest.approx(1200 * MM, abs=8)
    assert "no other scan shows the place" in remarks[0].text


def test_a_short_one_or_a_clean_edge_or_a_rim_in_an_overlap_is_not() -> None:
    light = textured(np.random.default_rng(2), 2400, 1600, contrast=0.05)
    tiles = side_by_side(light, (600, 1000))
    rim(tiles[0], 0.3, slice(0, 500))
    tiles[1][:, 600:640] *= 0.7
    canvas = canvas_of(tiles)
    assert darker_edges(canvas.grid, canvas.tiles) == []
