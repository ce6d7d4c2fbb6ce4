"""What two tiles share."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.placing.overlaps import block_centres, overlap, painted_mm2
from colormatch.placing.tiles import Tile
from tests.placing.scenes import tile_of


@pytest.fixture
def tile() -> Tile:
    return tile_of(np.zeros((320, 240, 3), dtype=np.uint16), name="a", ppi=127.0)


def test_area_is_that_of_the_sheet(tile: Tile) -> None:
    assert painted_mm2(tile) == pytest.approx(48.0 * 64.0, rel=0.02)


def test_share_and_width_of_a_shifted_tile(tile: Tile) -> None:
    rest = tile.resting()
    moved = rest.moved(0.0, 1.0, np.array([36.0, 0.0]))
    found = overlap(tile, tile, rest, moved)
    assert found.share == pytest.approx(0.25, abs=0.02)
    assert found.width == pytest.approx(60.0, abs=4.0)


def test_masked_places_are_not_shared(tile: Tile) -> None:
    mask = np.ones(tile.overview.shape[:2], dtype=bool)
    mask[:20] = False
    masked = replace(tile, mask=mask)
    found = overlap(masked, tile, tile.resting(), tile.resting())
    assert found.share == pytest.approx(1.0, abs=0.03)
    assert not found.shared[: found.shared.shape[0] // 3].any()


def test_blocks_lie_wholly_in_the_overlap(tile: Tile) -> None:
    rest = tile.resting()
    moved = rest.moved(3.0, 1.0, np.array([20.0, 6.0]))
    found = overlap(tile, tile, rest, moved)
    centres = block_centres(found, 32.0, 20.0)
    assert len(centres) > 10
    corners = centres[:, None] + 15.0 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    there = moved.scan_from_painting(rest.painting_from_scan(corners.reshape(-1, 2)))
    inside = corners.reshape(-1, 2)
    for points in (there, inside):
        # The overlap is known on a lattice: true to one of its spacings.
        assert (points >= -0.5 - found.spacing).all()
        assert (points <= [239.5 + found.spacing, 319.5 + found.spacing]).all()


def test_no_overlap_has_no_blocks(tile: Tile) -> None:
    moved = tile.resting().moved(0.0, 1.0, np.array([60.0, 0.0]))
    found = overlap(tile, tile, tile.resting(), moved)
    assert found.share == 0.0
    assert found.width == 0.0
    assert block_centres(found, 20.0, 20.0).shape == (0, 2)
