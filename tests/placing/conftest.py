"""Scenes shared by the room's tests; drawn once."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.placing.tiles import Tile
from tests.placing.scenes import Painting, TrueScan, painting


@pytest.fixture(scope="session")
def scene() -> Painting:
    return painting(np.random.default_rng(11), (1300, 1500))


@pytest.fixture(scope="session")
def beside() -> tuple[TrueScan, TrueScan]:
    """Two upright scans, 30 % in common, slanted, of unequal light."""
    first = TrueScan(
        width=700, height=900, middle=(420.0, 560.0), angle=-0.6, noise=0.003, name="left.tif"
    )
    second = TrueScan(
        width=700,
        height=900,
        middle=(911.3, 571.8),
        angle=0.4,
        noise=0.003,
        gain=0.85,
        fall_off=0.1,
        power=1.9,
        name="right.tif",
    )
    return first, second


@pytest.fixture(scope="session")
def beside_tiles(scene: Painting, beside: tuple[TrueScan, TrueScan]) -> tuple[Tile, Tile]:
    rng = np.random.default_rng(12)
    return beside[0].tile(scene, rng), beside[1].tile(scene, rng)
