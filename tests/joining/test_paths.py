"""The best way along a strip, against scipy's shortest path and known detours."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import dijkstra

from colormatch.joining.paths import FORBIDDEN, SIDEWAYS, STEEPEST, best_path, strip_costs
from colormatch.joining.strips import OFFSETS, Strip
from tests.joining.scenes import XYZ_FROM_RGB

WIDTH = len(OFFSETS)
MIDDLE = WIDTH // 2


def total(cost: np.ndarray, path: np.ndarray) -> float:
    return float(cost[np.arange(len(path)), path].sum() + SIDEWAYS * np.abs(np.diff(path)).sum())


def shortest(cost: np.ndarray) -> float:
    """Give the same by Dijkstra over all places."""
    count = len(cost)
    start, end, weight = [], [], []
    for row in range(count):
        for column in range(WIDTH):
            if row == 0:
                start.append(count * WIDTH)
                end.append(column)
                weight.append(cost[0, column])
                continue
            for move in range(-STEEPEST, STEEPEST + 1):
                if 0 <= column + move < WIDTH:
                    start.append((row - 1) * WIDTH + column + move)
                    end.append(row * WIDTH + column)
                    weight.append(cost[row, column] + SIDEWAYS * abs(move))
    at = (np.array(start), np.array(end))
    graph = coo_array((np.array(weight), at), shape=(count * WIDTH + 1, count * WIDTH + 1))
    distance: Any = dijkstra(csr_array(graph), indices=count * WIDTH)  # type: ignore[call-overload]
    return float(distance[(count - 1) * WIDTH : count * WIDTH].min())


def test_no_way_is_cheaper() -> None:
    rng = np.random.default_rng(1)
    cost = rng.uniform(0.1, 3, (40, WIDTH))
    path = best_path(cost, np.full((40, 2), 99.0))
    assert (np.abs(np.diff(path)) <= STEEPEST).all()
    assert total(cost, path) == pytest.approx(shortest(cost))


def test_the_way_stays_in_its_room() -> None:
    cost = np.ones((60, WIDTH))
    cost[:, : MIDDLE - 5] = 0
    room = np.full((60, 2), 10.0)
    room[[0, -1]] = 0
    room[20:30, 0] = 3
    path = OFFSETS[best_path(cost, room)]
    assert path[0] == path[-1] == 0
    assert (path >= -room[:, 0]).all()
    assert (path <= room[:, 1]).all()
    assert (path[10:18] == -6).all()


def strip(plus: np.ndarray, minus: np.ndarray) -> Strip:
    light = tuple(np.repeat(v[..., None], 3, axis=2).astype(np.float32) for v in (plus, minus))
    return Strip(light=(light[0], light[1]), inside=np.ones(plus.shape, dtype=bool))


def path_of(plus: np.ndarray, minus: np.ndarray) -> np.ndarray:
    room = np.full((len(plus), 2), 30.0)
    return OFFSETS[best_path(strip_costs(strip(plus, minus), XYZ_FROM_RGB), room)]


def test_the_seam_goes_round_a_place_where_the_tiles_differ() -> None:
    plus = np.full((120, WIDTH), 0.3)
    minus = plus.copy()
    minus[40:80, MIDDLE - 10 : MIDDLE + 15] *= 0.8
    path = path_of(plus, minus)
    assert (path[42:78] <= -10).all()


def test_the_seam_goes_round_a_stroke_rather_than_through_it() -> None:
    plus = np.full((120, WIDTH), 0.3)
    plus[50:70, MIDDLE - 15 : MIDDLE + 8] = 0.1
    path = path_of(plus, plus)
    assert (path[51:69] >= 7).all()


def test_the_seam_runs_on_an_edge_that_hides_it() -> None:
    plus = np.full((100, WIDTH), 0.3)
    plus[:, MIDDLE + 5 :] = 0.1
    path = path_of(plus, plus)
    assert (np.abs(path[10:-10] - 4.5) <= 1).all()


def test_no_place_is_given_to_a_tile_that_does_not_show_it() -> None:
    plus = np.full((100, WIDTH), 0.3)
    minus = plus.copy()
    # Plus lies beyond the seam: it must not begin before it is shown.
    plus[:, : MIDDLE + 12] = np.nan
    assert (path_of(plus, minus) >= 12).all()
    cost = strip_costs(strip(plus, minus), XYZ_FROM_RGB)
    assert cost[0, MIDDLE + 11] >= FORBIDDEN
    assert cost[0, MIDDLE + 12] < FORBIDDEN
    plus[:] = 0.3
    minus[:, MIDDLE - 8 :] = np.nan
    assert (path_of(plus, minus) <= -8).all()
