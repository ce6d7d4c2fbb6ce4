"""From a rough guess to a similarity."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.placing.coarse import Correlator, Guess, sketches
from colormatch.placing.pairing import checked
from colormatch.placing.poses import MM_PER_INCH
from colormatch.placing.tiles import Tile
from tests.placing.scenes import Painting, TrueScan


def test_a_guess_becomes_a_similarity(
    scene: Painting, beside: tuple[TrueScan, TrueScan], beside_tiles: tuple[Tile, Tile]
) -> None:
    guess = Correlator(sketches(beside_tiles)).guesses(0, 1)[0]
    pair = checked(beside_tiles, 0, 1, guess)
    assert pair is not None
    assert pair.pose.angle == pytest.approx(1.0, abs=0.05)
    assert pair.pose.scale == pytest.approx(1.0, abs=1e-3)
    gap = np.hypot(*(np.array(beside[1].middle) - beside[0].middle)) * MM_PER_INCH / scene.ppi
    assert np.hypot(*pair.pose.shift) == pytest.approx(gap, abs=0.2)
    assert pair.share == pytest.approx(0.29, abs=0.03)


def test_a_wrong_guess_is_refused(beside_tiles: tuple[Tile, Tile]) -> None:
    wrong = Guess(angle=180.0, shift=(70.0, 30.0), score=9.0, correlation=0.4)
    assert checked(beside_tiles, 0, 1, wrong) is None
