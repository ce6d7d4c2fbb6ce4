"""Blocks found again in a second scan, against the truth."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.placing.blocks import Matches, Plan, compare
from colormatch.placing.overlaps import block_centres, overlap
from colormatch.placing.poses import MM_PER_INCH, Pose
from colormatch.placing.tiles import Tile, View
from tests.placing.scenes import Painting, TrueScan


def rough_pose(scan: TrueScan, tile: Tile, scene: Painting, turn: float, off: float) -> Pose:
    """Give the true similarity, wrong by a turn and some millimetres."""
    shift = np.array(scan.middle) * MM_PER_INCH / scene.ppi + off
    return tile.resting().moved(scan.angle + turn, 1.0, shift)


def compared(scene: Painting, first: TrueScan, second: TrueScan) -> Matches:
    rng = np.random.default_rng(3)
    tiles = first.tile(scene, rng), second.tile(scene, rng)
    poses = (
        rough_pose(first, tiles[0], scene, 0.0, 0.0),
        rough_pose(second, tiles[1], scene, 0.1, 0.8),
    )
    centres = block_centres(overlap(*tiles, *poses), 96.0, 60.0)
    views = View(tile=tiles[0], step=1), View(tile=tiles[1], step=1)
    return compare(*views, poses, centres, Plan(side=96, search=16))


@pytest.mark.parametrize("turn", [0.0, 90.0, 180.0, 270.0])
def test_blocks_are_found_in_any_turn(
    scene: Painting, beside: tuple[TrueScan, TrueScan], turn: float
) -> None:
    first = beside[0]
    second = TrueScan(
        width=700,
        height=900,
        middle=(860.4, 640.2),
        angle=turn + 0.7,
        gain=0.85,
        fall_off=0.1,
        noise=0.003,
        power=1.9,
    )
    found = compared(scene, first, second)
    true = second.pixels_of(first.places(found.first, scene.ppi), scene.ppi)
    error = found.second - true
    assert len(found.first) > 0.9 * found.tried
    assert np.abs(error.mean(axis=0)).max() < 0.01
    assert np.sqrt((error**2).mean()) < 0.015


def test_a_finer_second_tile_is_brought_to_the_first(
    scene: Painting, beside: tuple[TrueScan, TrueScan]
) -> None:
    first = TrueScan(width=500, height=600, middle=(420.0, 560.0), ppi=100.0, noise=0.003)
    found = compared(scene, first, beside[1])
    true = beside[1].pixels_of(first.places(found.first, scene.ppi), scene.ppi)
    assert len(found.first) > 0.8 * found.tried
    assert np.sqrt(((found.second - true) ** 2).mean()) < 0.03


def test_information_matches_the_error(scene: Painting, beside: tuple[TrueScan, TrueScan]) -> None:
    found = compared(scene, *beside)
    true = beside[1].pixels_of(beside[0].places(found.first, scene.ppi), scene.ppi)
    error = found.second - true
    squares = np.einsum("ki,kij,kj->k", error, found.information, error)
    # Mean 2 for two degrees of freedom; few blocks, and a floor added on purpose.
    assert 0.4 < squares.mean() < 4.0


def test_strangers_do_not_match(scene: Painting, beside: tuple[TrueScan, TrueScan]) -> None:
    from tests.placing.scenes import painting

    other = painting(np.random.default_rng(99), (1300, 1500))
    rng = np.random.default_rng(3)
    tiles = beside[0].tile(scene, rng), beside[1].tile(other, rng)
    poses = tuple(rough_pose(s, t, scene, 0.0, 0.0) for s, t in zip(beside, tiles, strict=True))
    pair = (poses[0], poses[1])
    centres = block_centres(overlap(*tiles, *pair), 96.0, 60.0)
    views = View(tile=tiles[0], step=1), View(tile=tiles[1], step=1)
    found = compare(*views, pair, centres, Plan(side=96, search=16))
    assert len(found.first) < 0.3 * found.tried
