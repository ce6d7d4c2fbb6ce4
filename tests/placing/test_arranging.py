"""How tiles lie: what is accepted, what is refused and in which words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.errors import PlacingError
from colormatch.placing.place import place
from colormatch.placing.tiles import Tile
from tests.placing.scenes import Painting, TrueScan, painting


def beside_at(scene: Painting, share: float) -> tuple[Tile, Tile]:
    """Two upright tiles that have ``share`` of their width in common."""
    rng = np.random.default_rng(5)
    return (
        TrueScan(width=600, height=800, middle=(400.0, 600.0), name="a.tif", noise=0.003).tile(
            scene, rng
        ),
        TrueScan(
            width=600,
            height=800,
            middle=(1000.0 - 600.0 * share, 604.0),
            name="b.tif",
            noise=0.003,
            gain=0.9,
        ).tile(scene, rng),
    )


def test_ten_percent_are_enough(scene: Painting) -> None:
    found = place(beside_at(scene, 0.10))
    assert found.rms < 0.06
    assert found.pairs[0].share == pytest.approx(0.10, abs=0.01)


def test_under_five_percent_is_refused_by_name(scene: Painting) -> None:
    with pytest.raises(PlacingError, match=r"a\.tif and b\.tif share only 4\.\d %"):
        place(beside_at(scene, 0.045))


def test_no_overlap_is_refused(scene: Painting) -> None:
    with pytest.raises(PlacingError, match=r"nothing in b\.tif is found again in a\.tif"):
        place(beside_at(scene, -0.02))


def test_another_painting_is_refused(
    beside: tuple[TrueScan, TrueScan], beside_tiles: tuple[Tile, Tile]
) -> None:
    other = painting(np.random.default_rng(31), (1300, 1500))
    stranger = replace(beside[1], name="other.tif").tile(other, np.random.default_rng(1))
    with pytest.raises(PlacingError, match=r"nothing in other\.tif is found again"):
        place((*beside_tiles, stranger))


def test_a_tile_given_twice_is_refused(beside_tiles: tuple[Tile, Tile]) -> None:
    again = replace(beside_tiles[0], name="copy.tif")
    with pytest.raises(PlacingError, match=r"left\.tif and copy\.tif show the same part"):
        place((*beside_tiles, again))


def test_a_second_scan_of_the_same_place_is_refused(
    scene: Painting, beside: tuple[TrueScan, TrueScan], beside_tiles: tuple[Tile, Tile]
) -> None:
    again = replace(beside[0], middle=(428.0, 566.0), angle=0.4, name="again.tif")
    tile = again.tile(scene, np.random.default_rng(77))
    with pytest.raises(PlacingError, match=r"left\.tif and again\.tif show the same part"):
        place((*beside_tiles, tile))


def test_a_scan_without_painting_is_refused(beside_tiles: tuple[Tile, Tile]) -> None:
    empty = np.zeros(beside_tiles[1].overview.shape[:2], dtype=bool)
    bare = replace(beside_tiles[1], mask=empty)
    with pytest.raises(PlacingError, match=r"no painting was found in right\.tif"):
        place((beside_tiles[0], bare))


def test_a_tile_slanted_by_eight_degrees_is_found(
    scene: Painting, beside: tuple[TrueScan, TrueScan], beside_tiles: tuple[Tile, Tile]
) -> None:
    slanted = replace(beside[1], angle=8.0)
    found = place((beside_tiles[0], slanted.tile(scene, np.random.default_rng(2))))
    assert found.poses[1].angle - found.poses[0].angle == pytest.approx(8.6, abs=0.01)
