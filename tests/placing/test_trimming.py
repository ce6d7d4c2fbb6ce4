"""The painting set upright and cut."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.errors import PlacingError
from colormatch.placing.place import place
from colormatch.placing.tiles import Tile
from colormatch.placing.trimming import canvas_mask, trimmed
from tests.placing.scenes import Painting, TrueScan


def framed(scene: Painting, angle: float) -> tuple[tuple[Tile, ...], float]:
    """Two tiles of a painting 900 × 700 px, turned clockwise in both scans alike."""
    rng = np.random.default_rng(2)
    scans = (
        TrueScan(width=700, height=900, middle=(520.0, 650.0), angle=-angle, name="a"),
        TrueScan(width=700, height=900, middle=(980.0, 650.0), angle=-angle, name="b"),
    )
    tiles = []
    for scan in scans:
        tile = scan.tile(scene, rng, step=4)
        x, y = np.meshgrid(np.arange(700 // 4), np.arange(900 // 4))
        places = scan.places(np.stack([x, y], axis=-1) * 4 + 1.5, scene.ppi)
        mask = np.asarray((np.abs(places - [750.0, 650.0]) <= [450.0, 350.0]).all(axis=-1))
        tiles.append(replace(tile, mask=mask))
    return tuple(tiles), angle


@pytest.mark.parametrize("angle", [0.0, 1.7, -2.4])
def test_the_painting_is_set_upright_and_cut_to_its_size(scene: Painting, angle: float) -> None:
    tiles, _ = framed(scene, angle)
    placement = place(tiles)
    trim = trimmed(tiles, placement)
    assert trim.angle == pytest.approx(-angle, abs=0.1)
    assert trim.skew < 0.2
    cut = placement.with_canvas(trim.angle, trim.box)
    assert cut.width == pytest.approx(900, abs=8)
    assert cut.height == pytest.approx(700, abs=8)
    assert canvas_mask(tiles, cut, 4.0).mean() > 0.995


def test_no_painting_is_said(scene: Painting) -> None:
    tiles, _ = framed(scene, 0.0)
    placement = place(tiles)
    bare = tuple(replace(t, mask=np.zeros(t.overview.shape[:2], dtype=bool)) for t in tiles)
    with pytest.raises(PlacingError, match="edges were not found"):
        trimmed(bare, placement)
