"""Turns and rough places of whole tiles."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.placing.coarse import Correlator, sketches, turned
from colormatch.placing.poses import MM_PER_INCH
from colormatch.placing.tiles import Tile
from tests.placing.scenes import Painting, TrueScan


@pytest.mark.parametrize("turn", [0.0, 90.0, 180.0, 270.0])
def test_turn_and_place_are_found(
    scene: Painting, beside_tiles: tuple[Tile, Tile], beside: tuple[TrueScan, TrueScan], turn: float
) -> None:
    second = TrueScan(width=700, height=900, middle=(870.0, 620.0), angle=turn + 1.5, gain=0.8)
    tile = second.tile(scene, np.random.default_rng(1))
    best, runner_up, *_ = Correlator(sketches((beside_tiles[0], tile))).guesses(0, 1)
    assert (best.angle - turn - 1.5 - 0.6 + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1.0)
    assert best.score > 12.0
    assert runner_up.score < 6.0
    gap = (np.array(second.middle) - beside[0].middle) * MM_PER_INCH / scene.ppi
    c, s = np.cos(np.radians(0.6)), np.sin(np.radians(0.6))
    expected = np.array([[c, -s], [s, c]]) @ gap
    assert np.hypot(*(np.array(best.shift) - expected)) < 2.5


def test_unrelated_tiles_score_low(scene: Painting, beside: tuple[TrueScan, TrueScan]) -> None:
    from tests.placing.scenes import painting

    rng = np.random.default_rng(4)
    other = painting(np.random.default_rng(77), (1300, 1500))
    tiles = beside[0].tile(scene, rng), beside[1].tile(other, rng)
    assert Correlator(sketches(tiles)).guesses(0, 1)[0].score < 6.5


def test_quarter_turns_are_exact(beside_tiles: tuple[Tile, Tile]) -> None:
    piece = sketches(beside_tiles)[0]
    np.testing.assert_array_equal(turned(piece, 90.0).detail, np.rot90(piece.detail, -1))
    np.testing.assert_array_equal(turned(piece, 270.0).detail, np.rot90(piece.detail, 1))


def test_what_the_mask_hides_leaves_no_trace(beside_tiles: tuple[Tile, Tile]) -> None:
    from dataclasses import replace

    tile = beside_tiles[0]
    mask = np.ones(tile.overview.shape[:2], dtype=bool)
    mask[:30] = False
    loud = tile.overview.copy()
    loud[:30] = np.random.default_rng(1).random((30, *loud.shape[1:]))
    quiet = sketches((replace(tile, mask=mask),))[0]
    other = sketches((replace(tile, mask=mask, overview=loud),))[0]
    np.testing.assert_allclose(quiet.detail, other.detail, atol=1e-4)
