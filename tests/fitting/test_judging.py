"""Left-out figures and the naming of odd tiles."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.fitting.choosing import choose
from colormatch.fitting.grouping import group_by_curve
from colormatch.fitting.judging import difference, judge
from colormatch.fitting.problem import TilesProblem
from colormatch.fitting.readings import TileReadings
from colormatch.fitting.solving import solve_tiles
from colormatch.fitting.tone import ToneCurve
from tests.fitting.spectral import Setting, scan


def without(readings: TileReadings, row: int) -> TileReadings:
    keep = np.arange(len(readings.ids)) != row
    return replace(
        readings,
        ids=tuple(name for i, name in enumerate(readings.ids) if i != row),
        rgb=readings.rgb[keep],
        noise=readings.noise[keep],
        xyz=readings.xyz[keep],
        neutral=readings.neutral[keep],
        along=readings.along[keep],
        points=readings.points[keep],
    )


def test_left_out_figures_equal_those_of_fits_without_the_patch() -> None:
    readings = scan(Setting(seed=7)).readings
    solution = choose([readings]).solution
    quick = judge([readings], solution)[0].left_out
    rows = [0, 12, 25, 33, 40, 50]
    slow = [refitted_error(readings, row, solution.curve) for row in rows]
    np.testing.assert_allclose(quick[rows], slow, atol=0.15)


def refitted_error(readings: TileReadings, row: int, curve: ToneCurve) -> float:
    solution = solve_tiles([without(readings, row)], curve, bends=False)
    weighted = replace(solution, weights=(np.ones(len(readings.ids)),))
    problem = TilesProblem.looking_round([readings], weighted)
    seen = problem.light(solution)[0][row] @ solution.xyz_from_rgb.T
    return float(difference(seen, readings.xyz[row]))


def test_left_out_is_never_better_than_fitted_on_the_whole() -> None:
    readings = scan(Setting(seed=8)).readings
    judgement = judge([readings], choose([readings]).solution)[0]
    assert judgement.left_out.mean() > judgement.fitted.mean()


def test_tiles_of_one_setting_are_not_named() -> None:
    tiles = [
        scan(Setting(seed=seed, gains=(0.9 - 0.03 * seed,) * 3, noise=0.01)).readings
        for seed in (1, 2, 3)
    ]
    assert group_by_curve(tiles) == ((0, 1, 2),)
    assert not any(j.departs for j in judge(tiles, choose(tiles).solution))


def test_inks_that_no_matrix_serves_do_not_pass_for_other_settings() -> None:
    # Under three bands of light some samples of CIE 224 are far off in all tiles alike.
    tiles = [scan(Setting(seed=seed, lamp="FL11", noise=0.001)).readings for seed in (1, 2)]
    rgb = [tile.rgb.copy() for tile in tiles]
    for one in rgb:
        one[20:28] *= np.array([1.25, 0.9, 1.0])
    odd = [replace(tile, rgb=np.clip(c, 0, 1)) for tile, c in zip(tiles, rgb, strict=True)]
    assert not any(j.departs for j in judge(odd, choose(odd).solution))


def test_a_tile_with_another_saturation_is_named() -> None:
    tiles = [scan(Setting(seed=seed)).readings for seed in (1, 2)]
    tiles.append(scan(Setting(seed=3, mixing=0.12)).readings)
    judged = judge(tiles, choose(tiles).solution)
    assert judged[2].departs
    assert judged[2].departure > 2 * max(judged[0].departure, judged[1].departure) * 0.8


@pytest.mark.parametrize(("one", "other"), [("2.2", "1.8"), ("srgb", "1.0"), ("2.2", "s")])
def test_tiles_with_other_curves_are_grouped_apart(one: str, other: str) -> None:
    tiles = [
        scan(Setting(seed=1, curve=one)).readings,
        scan(Setting(seed=2, curve=other)).readings,
        scan(Setting(seed=3, curve=one, gains=(0.8, 0.82, 0.79))).readings,
    ]
    assert group_by_curve(tiles) == ((0, 2), (1,))
