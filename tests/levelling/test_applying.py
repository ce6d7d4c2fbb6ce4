"""Gain fields on the grid of each tile's small picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.levelling.applying import gain_fields
from colormatch.levelling.solving import solve
from tests.levelling.cases import (
    FROM,
    Levelled,
    grid,
    level,
    normalised,
    pair_without_strip,
    uneven_pair,
)


@pytest.fixture(scope="module")
def pair() -> Levelled:
    return level(uneven_pair(1))


def test_gains_fit_their_tiles(pair: Levelled) -> None:
    for tile, gain in zip(pair.scene.tiles, pair.gains, strict=True):
        assert gain.gain.shape == tile.light.shape
        assert gain.sigma.shape == tile.valid.shape
        assert gain.gain.dtype == gain.sigma.dtype == np.float32
        assert gain.gain.min() > 0
        assert gain.sigma.min() > 0


def test_gains_of_turned_files_fit_too() -> None:
    result = level(grid(1))
    shapes = {g.gain.shape[:2] for g in result.gains}
    assert len(shapes) == 2
    for tile, gain in zip(result.scene.tiles, result.gains, strict=True):
        assert gain.gain.shape == tile.light.shape


def test_gains_are_smooth(pair: Levelled) -> None:
    for gain in pair.gains:
        bend = np.diff(np.log(gain.gain.astype(float)), 2, axis=1)
        # 5 % over 108 mm as a parabola bends by 2e-5 per pixel of 1.5 mm.
        assert np.abs(bend).max() < 1e-4


def test_what_was_divided_out_before_is_counted(pair: Levelled) -> None:
    tiles = [replace(t, lamp=None) for t in pair.scene.tiles]
    lamp = np.full(tiles[0].valid.shape, 1.25)
    marked = [replace(tiles[0], lamp=lamp), tiles[1]]
    levels = solve(tiles, pair.pairs)
    plain, counted = gain_fields(levels, tiles), gain_fields(levels, marked)
    np.testing.assert_allclose(counted[0].gain, 1.25 * plain[0].gain, rtol=1e-5)


def test_the_uncertainty_told_is_the_error_made() -> None:
    scenes = [uneven_pair(s, strip=k) for s in (1, 2, 3) for k in ("lamp", "way")]
    results = [level(s) for s in scenes]
    together = np.concatenate([normalised(r) for r in results])
    assert 0.2 < np.sqrt(np.mean(together**2)) < 1.3


def test_the_uncertainty_grows_away_from_the_overlap_and_without_a_strip() -> None:
    result = level(pair_without_strip(1))
    first, second = (
        g.sigma[t.valid] for g, t in zip(result.gains, result.scene.tiles, strict=True)
    )
    assert second.mean() > first.mean()
    place = result.scene.places[0][result.scene.tiles[0].valid][:, 0]
    assert first[place < 40.0].mean() > first[place > FROM].mean()
