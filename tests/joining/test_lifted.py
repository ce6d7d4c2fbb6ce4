"""Soft places in words: where, how large, how much."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.joining.lifted import soft_places
from tests.joining.scenes import MM, STEP, canvas_of, ground, side_by_side


def test_lifted_and_softer_places_are_told_with_their_size_and_blur() -> None:
    canvas = canvas_of(side_by_side(ground(np.random.default_rng(1), 800, 1600), (400, 1200)))
    softness = [np.full(tile.valid.shape, np.nan, np.float32) for tile in canvas.tiles]
    softness[0][:, 50:150] = 0.05
    softness[0][:40, 60:100] = 0.3
    # Four times the log is twice the blur.
    softness[1][:60, :50] = 0.6001
    softness[1][80:83, :3] = 0.9
    softer, lifted = soft_places(canvas.grid, canvas.tiles, softness)
    assert (softer.kind, softer.tiles) == ("softer", ("tile0.tif",))
    assert softer.place == pytest.approx((80 * STEP * MM, 20 * STEP * MM))
    assert softer.size == pytest.approx((40 * STEP * MM, 40 * STEP * MM))
    assert (lifted.kind, lifted.tiles) == ("lifted", ("tile1.tif",))
    assert lifted.depth == pytest.approx(2 * 0.45, abs=0.01)
    assert lifted.place[0] == pytest.approx((400 + 25 * STEP) * MM)
    assert "did not touch the glass (blur about 0.9 px)" in lifted.text
