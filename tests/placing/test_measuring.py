"""Comparison at full scale: what is read, and how exact it is."""

from __future__ import annotations

import numpy as np

from colormatch.model import Window
from colormatch.placing.measuring import measured
from colormatch.placing.poses import MM_PER_INCH
from colormatch.placing.tiles import Tile
from tests.placing.scenes import Painting, TrueScan


def test_only_windows_are_read_and_gaps_are_small(
    scene: Painting, beside: tuple[TrueScan, TrueScan], beside_tiles: tuple[Tile, Tile]
) -> None:
    from dataclasses import replace

    read = [0]

    def watched(tile: Tile) -> Tile:
        def reading(window: Window) -> object:
            read[0] = max(read[0], window.width * window.height)
            return tile.read(window)

        return replace(tile, read=reading)  # type: ignore[arg-type]

    tiles = tuple(watched(tile) for tile in beside_tiles)
    poses = tuple(
        tile.resting().moved(s.angle, 1.0, np.array(s.middle) * MM_PER_INCH / scene.ppi)
        for tile, s in zip(tiles, beside, strict=True)
    )
    found = measured(tiles, poses, 0, 1)
    assert found is not None
    o = found.observation
    gap = poses[0].painting_from_scan(o.ours) - poses[1].painting_from_scan(o.theirs)
    assert len(o.ours) >= 10
    pixel = MM_PER_INCH / scene.ppi
    assert np.sqrt((gap**2).mean()) < 0.03 * pixel
    assert np.abs(gap).max() < 0.2 * pixel
    assert read[0] < 0.45 * 700 * 900


def test_tiles_apart_share_nothing(beside_tiles: tuple[Tile, Tile]) -> None:
    rest = beside_tiles[0].resting()
    far = beside_tiles[1].resting().moved(0.0, 1.0, np.array([500.0, 0.0]))
    assert measured(beside_tiles, (rest, far), 0, 1) is None
