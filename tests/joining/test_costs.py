"""Costs: what must be dearer is dearer, in the unit they are stated in."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.joining import costs
from colormatch.joining.records import pairs_of
from tests.joining.scenes import XYZ_FROM_RGB, canvas_of, ground, side_by_side


def test_wrong_soft_and_outer_places_cost_more() -> None:
    light = ground(np.random.default_rng(1), 800, 800)
    canvas = canvas_of([light])
    tile = canvas.tiles[0]
    softness, penalty = np.zeros_like(tile.edge_distance), np.zeros_like(tile.edge_distance)
    softness[20:25, 20:25] = 0.3
    softness[20:25, 30:35] = 0.7
    softness[40:45, 50:70] = np.nan
    softness[55:60, 50:70] = 0.1
    penalty[30:35, 20:25] = 1
    cost = costs.taking(canvas.grid, tile, softness, penalty) / canvas.grid.pixel**2
    middle = cost[50, 50]
    assert cost[0, 50] - middle == pytest.approx(
        costs.RIM * np.exp(-tile.edge_distance[0, 50] / costs.RIM_REACH), abs=0.03
    )
    assert cost[22, 32] - cost[22, 37] == pytest.approx(costs.LIFTED_SOFT, rel=0.02)
    assert costs.SOFT < cost[22, 22] - cost[22, 27] < costs.LIFTED_SOFT
    assert cost[32, 22] - cost[32, 27] == pytest.approx(costs.SHADOW, rel=0.02)
    # Not measurable, and below the limit, cost nothing.
    assert cost[42, 60] == pytest.approx(middle, abs=0.01)
    assert cost[57, 60] == pytest.approx(middle, abs=0.01)


def test_a_meeting_is_as_bad_as_the_difference_and_the_slip() -> None:
    light = ground(np.random.default_rng(2), 400, 800, grain=0.001)
    tiles = side_by_side(light, (200, 600))
    # At L* near 65 a step of 3 % of light is about one unit of lightness.
    tiles[1][200:] *= 1.03
    tiles[1][300:] *= 3.0
    canvas = canvas_of(tiles)
    (pair,) = pairs_of(canvas.tiles)
    agree = costs.meeting(canvas.tiles, pair, 0.0, XYZ_FROM_RGB)
    assert agree.step[:24].max() < 0.1
    assert agree.step[26:36].mean() == pytest.approx(0.01 * (65 + 16), abs=0.15)
    assert (agree.step[39:] == costs.MOST_STEP).all()
    slip = np.zeros((canvas.grid.height, canvas.grid.width))
    slip[:, 50:] = 0.3
    slipped = costs.meeting(canvas.tiles, pair, slip, XYZ_FROM_RGB)
    assert slipped.step[:24, 26:] - agree.step[:24, 26:] == pytest.approx(1.0, abs=1e-4)
    assert (slipped.step[:24, :24] == agree.step[:24, :24]).all()


def test_tiles_are_faded_into_each_other_without_a_step() -> None:
    light = ground(np.random.default_rng(3), 400, 1200, grain=0.001)
    tiles = side_by_side(light, (300, 900))
    tiles[1] *= 1.1
    canvas = canvas_of(tiles)
    lab = costs.blended_lab(canvas.grid, canvas.tiles, canvas.nothing, XYZ_FROM_RGB)
    lightness = lab[10:-10, :, 0].mean(axis=0)
    assert np.ptp(lightness) > 1.5
    assert np.abs(np.diff(lightness)).max() < 0.1 * np.ptp(lightness)


def test_busy_is_between_calm_and_the_busiest() -> None:
    lab = np.zeros((40, 60, 3), np.float32)
    lab[:, 30::2, 0] = 50
    busy = costs.busyness(lab)
    assert busy[:, :27].max() == 0
    assert busy[:, 33:].min() == 1
