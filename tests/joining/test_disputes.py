"""Where tiles differ: shadows of known depth are found, grain and noise are not."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.joining.disputes import find_disputes
from tests.joining.scenes import STEP, canvas_of, side_by_side, textured, with_noise


def test_tiles_that_agree_within_noise_have_no_dispute() -> None:
    rng = np.random.default_rng(1)
    tiles = with_noise(side_by_side(textured(rng, 800, 1200), (300, 900)), rng, 0.03)
    canvas = canvas_of(tiles)
    assert find_disputes(canvas.grid, canvas.tiles) == []


def test_a_constant_difference_of_level_is_no_shadow() -> None:
    rng = np.random.default_rng(2)
    tiles = with_noise(side_by_side(textured(rng, 800, 1200), (300, 900)), rng, 0.02)
    canvas = canvas_of([tiles[0] * np.float32(1.01), tiles[1]])
    assert find_disputes(canvas.grid, canvas.tiles) == []


def test_a_slip_of_a_third_of_a_pixel_is_no_shadow() -> None:
    rng = np.random.default_rng(3)
    light = textured(rng, 800, 1200)
    tiles = side_by_side(light, (300, 900))
    tiles[1] = tiles[1] + np.float32(0.33) * (np.roll(tiles[1], 1, axis=1) - tiles[1])
    canvas = canvas_of(with_noise(tiles, rng, 0.02))
    found = find_disputes(canvas.grid, canvas.tiles)
    assert sum(int(d.mask.sum()) for d in found) < 0.002 * (800 * 600 / STEP**2)


@pytest.mark.parametrize("depth", [0.05, 0.2, -0.1])
def test_a_shadow_is_found_with_its_place_and_depth(depth: float) -> None:
    rng = np.random.default_rng(4)
    tiles = side_by_side(textured(rng, 800, 1200), (300, 900))
    tiles[1][200:600, 500:600] *= 1 - depth
    canvas = canvas_of(with_noise(tiles, rng, 0.02))
    found = find_disputes(canvas.grid, canvas.tiles)
    assert len(found) == 1
    place = found[0]
    # First over second: the second tile lacks light.
    assert place.depth == pytest.approx(-np.log(1 - depth), rel=0.1)
    # The low-pass carries it over its border, by two grid pixels at most.
    assert 400 * 100 <= place.mask.sum() * STEP**2 <= 432 * 132
    rows, columns = np.nonzero(place.mask)
    assert (rows.mean() + place.box.top + 0.5) * STEP == pytest.approx(400, abs=8)
    assert (columns.mean() + place.box.left + 0.5) * STEP == pytest.approx(550, abs=8)
