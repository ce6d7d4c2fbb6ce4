"""The joint fit against truth computed from published spectra (see spectral.py)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.colour.difference import metric_roots
from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab
from colormatch.fitting.choosing import choose
from colormatch.fitting.judging import difference
from colormatch.fitting.matrix import solve_matrix
from colormatch.fitting.solving import solve_tiles
from colormatch.fitting.tone import starting_curves
from tests.fitting.spectral import (
    Scene,
    Setting,
    corrected,
    scan,
    truth,
    without_surroundings,
)


def best_possible(scene: Scene) -> float:
    """Mean ΔE2000 on the paint of a 3x3 fitted to the patches' faultless light."""
    x, y = scene.readings.points.astype(int).T
    matrix = solve_matrix(scene.light[y, x], scene.readings.xyz, metric_roots(scene.readings.xyz))
    rows, columns = np.nonzero(scene.painting)
    seen = scene.light[rows[::7], columns[::7]] @ matrix.T
    return float(difference(seen, truth(scene)).mean())


def error(scene: Scene) -> float:
    choice = choose([scene.readings])
    return float(difference(corrected(scene, choice.solution), truth(scene)).mean())


@pytest.mark.parametrize("curve", ["srgb", "2.2", "1.8", "1.0", "s"])
@pytest.mark.parametrize("lamp", ["LED-B3", "FL11"])
def test_paint_comes_within_a_tenth_of_the_best_matrix(curve: str, lamp: str) -> None:
    scene = scan(Setting(curve=curve, lamp=lamp, scatter=0.01, vignette=0.03))
    assert error(scene) <= best_possible(scene) + 0.12


@pytest.mark.parametrize("curve", ["srgb", "1.8"])
@pytest.mark.parametrize("reach", [8.0, 14.0, 40.0])
def test_scattered_light_on_a_dark_painting_is_found_and_removed(curve: str, reach: float) -> None:
    scene = scan(Setting(curve=curve, dark=True, scatter=0.025, reach=reach, seed=1))
    blind = solve_tiles(
        [without_surroundings(scene)], choose([scene.readings]).solution.curve, bends=False
    )
    left = difference(corrected(scene, blind), truth(scene)).mean()
    assert error(scene) <= best_possible(scene) + 0.5
    assert error(scene) < 0.6 * left


def test_without_scattered_light_next_to_none_is_removed() -> None:
    scene = scan(Setting(curve="srgb", dark=True, seed=2))
    choice = choose([scene.readings])
    # Flatbeds scatter 1 % and more.
    assert choice.solution.scatter.sum() < 0.007
    assert error(scene) <= best_possible(scene) + 0.15


def test_gains_between_tiles_are_recovered() -> None:
    one = scan(Setting(seed=1, gains=(0.95, 0.9, 0.92)))
    other = scan(Setting(seed=2, gains=(0.85, 0.88, 0.9)))
    solution = choose([one.readings, other.readings]).solution
    np.testing.assert_allclose(
        solution.gains[1], np.array([0.85, 0.88, 0.9]) / [0.95, 0.9, 0.92], rtol=0.004
    )


def test_fall_off_along_the_strip_is_recovered() -> None:
    scene = scan(Setting(vignette=0.05, seed=4))
    lamp = choose([scene.readings]).solution.lamp(0, np.array([-1.0, 0.0, 1.0]))
    ends = 1 - 0.05 * (90 / 108) ** 2
    # Eight greys at each end, each off by some 2 % for its spectrum: 0.7 % sigma.
    np.testing.assert_allclose(lamp, [ends, 1.0, ends], atol=0.015)


def test_a_few_dirty_patches_do_not_spoil_the_fit() -> None:
    clean = scan(Setting(seed=5))
    dirty = scan(Setting(seed=5))
    dirty.readings.rgb[[9, 20, 31]] *= [[0.8], [0.7], [1.15]]
    assert error(dirty) <= error(clean) + 0.1


def test_patches_whose_values_are_doubtful_count_less() -> None:
    readings = scan(Setting(seed=4)).readings
    lab = lab_from_xyz(readings.xyz)
    colours = np.flatnonzero(~readings.neutral)[::2]
    # Half the colours are off by what their file says they may be.
    lab[colours] += np.random.default_rng(0).normal(0, 4, (len(colours), 3))
    off = replace(readings, xyz=np.maximum(xyz_from_lab(lab), 1e-4))
    doubt = np.full(len(off.rgb), 0.2)
    doubt[colours] = 4.0
    base = starting_curves(None)[1]
    true, blind, told = (
        solve_tiles([one], base).xyz_from_rgb for one in (readings, off, replace(off, doubt=doubt))
    )
    assert np.linalg.norm(told - true) < 0.7 * np.linalg.norm(blind - true)


def test_greys_alone_still_start_the_search() -> None:
    scene = scan(Setting(curve="1.0", seed=6))
    power = starting_curves(None)[0]
    exponent = solve_tiles([scene.readings], power, bends=False).curve.exponent
    assert exponent == pytest.approx(1.0, abs=0.03)
