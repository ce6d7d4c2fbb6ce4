"""Which tiles lie side by side, against the places they were cut from."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.placing.neighbours import Beside, neighbours, placed_neighbours, quarter_turns
from colormatch.placing.poses import MM_PER_INCH, resting_pose
from colormatch.placing.tiles import Tile
from tests.placing.scenes import Painting, TrueScan, painting

WIDE = TrueScan(width=700, height=900, middle=(400.0, 620.0))


def beside(scene: Painting, **second: object) -> list[Beside]:
    rng = np.random.default_rng(2)
    given = {"width": 700, "height": 900, "middle": (870.0, 620.0)} | second
    return neighbours((WIDE.tile(scene, rng), TrueScan(**given).tile(scene, rng)))  # type: ignore[arg-type]


@pytest.mark.parametrize("turn", [0, 1, 2, 3])
def test_turns_are_quarters(scene: Painting, turn: int) -> None:
    (pair,) = beside(scene, angle=90.0 * turn + 1.0, width=700, height=700 if turn % 2 else 900)
    assert (pair.turns - turn) % 4 == 0
    assert quarter_turns(2, [pair]) == [0, turn]


@pytest.mark.parametrize("shared", [60, 110, 230])
def test_the_overlap_has_its_width_and_place(scene: Painting, shared: int) -> None:
    (pair,) = beside(scene, middle=(1100.0 - shared, 620.0))
    mm = MM_PER_INCH / scene.ppi
    # The lattice of 200 places, 0.76 mm apart, may lose one at either side.
    assert 0 <= shared * mm - pair.width < 2 * 0.77 + 0.4
    x, _, width, height = pair.places[1]
    assert x == pytest.approx(0, abs=1.5)
    assert width == pytest.approx(shared * mm, abs=1.5)
    assert height == pytest.approx(900 * mm, abs=2.5)
    assert pair.places[0][0] == pytest.approx((700 - shared) * mm, abs=1.5)


@pytest.mark.parametrize("turn", [0, 1])
def test_known_poses_are_described_as_found_ones(scene: Painting, turn: int) -> None:
    rng = np.random.default_rng(2)
    second = TrueScan(width=700, height=700, middle=(870.0, 620.0), angle=90.0 * turn)
    tiles = (WIDE.tile(scene, rng), second.tile(scene, rng))
    (looked_for,) = neighbours(tiles)
    # The whole painting lies elsewhere and turned: only how tiles lie to each other counts.
    poses = tuple(
        pose.moved(30.0, 1.0, np.array([12.0, -7.0]))
        for pose in (tiles[0].resting(), looked_for.pose)
    )
    (known,) = placed_neighbours(tiles, (poses[0], poses[1]), [(0, 1)])
    assert known.turns == looked_for.turns
    assert known.width == pytest.approx(looked_for.width, abs=0.8)
    for one, other in zip(known.places, looked_for.places, strict=True):
        assert one == pytest.approx(other, abs=0.8)


def test_tiles_of_different_paintings_are_no_neighbours(scene: Painting) -> None:
    other = painting(np.random.default_rng(77), (1300, 1500))
    rng = np.random.default_rng(4)
    assert neighbours((WIDE.tile(scene, rng), WIDE.tile(other, rng))) == []


def test_tiles_without_paint_are_left_out(scene: Painting) -> None:
    tile = WIDE.tile(scene, np.random.default_rng(4))
    bare = Tile(
        name="bare",
        width=tile.width,
        height=tile.height,
        ppi=tile.ppi,
        overview=tile.overview,
        step=tile.step,
        read=tile.read,
        mask=np.zeros(tile.overview.shape[:2], bool),
    )
    assert neighbours((bare, tile)) == []


def made(first: int, second: int, turns: int) -> Beside:
    return Beside(
        first=first,
        second=second,
        turns=turns,
        pose=resting_pose((10, 10), (100.0, 100.0), along_x=False, spacing=5.0),
        width=30.0,
        places=((0, 0, 1, 1), (0, 0, 1, 1)),
        sure=True,
    )


def test_the_turn_most_share_counts_as_upright() -> None:
    pairs = [made(0, 1, 2), made(1, 2, 0), made(3, 4, 1)]
    # Tile 0 is the odd one of three; 3 and 4 are a group of their own; 5 is alone.
    assert quarter_turns(6, pairs) == [2, 0, 0, 0, 1, None]
