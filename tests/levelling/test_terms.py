"""The layout of the unknowns, and what is believed of them."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.levelling.terms import (
    PARTS_FROM_RGB,
    RGB_FROM_PARTS,
    Area,
    Spreads,
    Terms,
    ramp_and_bow,
)

AREAS = (
    Area(lamp=(20.0, 190.0), way=(30.0, 230.0), scan=(0.0, 216.0)),
    Area(lamp=(5.0, 200.0), way=(40.0, 280.0), scan=(0.0, 216.0)),
)


@pytest.fixture(scope="module")
def terms() -> Terms:
    return Terms.over(AREAS, (0.003, 0.003), field_spacing=40.0)


def test_parts_are_the_mean_and_two_greyless_differences() -> None:
    np.testing.assert_allclose(RGB_FROM_PARTS @ PARTS_FROM_RGB, np.eye(3), atol=1e-12)
    np.testing.assert_allclose(PARTS_FROM_RGB[0], 1 / 3)
    np.testing.assert_allclose(PARTS_FROM_RGB[1:].sum(axis=1), 0.0, atol=1e-12)


def test_rows_and_grid_say_the_same(terms: Terms) -> None:
    rng = np.random.default_rng(1)
    unknowns = rng.standard_normal((terms.size, 3))
    lamp, way = np.linspace(10, 180, 7), np.linspace(50, 220, 5)
    for tile in range(2):
        grid = sum(terms.on_grid(tile, lamp, way, unknowns).values())
        points = np.stack(np.meshgrid(lamp, way), axis=-1).reshape(-1, 2)
        columns, design = terms.rows(tile, points)
        assert np.all(np.diff(columns) > 0)
        np.testing.assert_allclose(
            design @ unknowns[columns], np.reshape(grid, (-1, 3)), atol=1e-12
        )


def test_each_tile_has_its_own_field_gain_and_drift(terms: Terms) -> None:
    middle = np.array([[100.0, 130.0]])
    shared = np.intersect1d(terms.rows(0, middle)[0], terms.rows(1, middle)[0])
    assert shared.min() >= len(AREAS)
    assert shared.max() < terms.first_drift


def test_a_centred_parabola_costs_less_than_a_ramp() -> None:
    stiff = Terms.over(AREAS, (0.003, 0.003), field_spacing=None)
    precision = stiff.prior(Spreads(), 0)
    at = slice(len(AREAS), stiff.first_carriage)
    side = np.linspace(-1, 1, stiff.profile.count)
    bow, ramp = side**2 - np.mean(side**2), side
    costs = [v @ precision[at, at] @ v / (v @ v) for v in (bow, ramp)]
    assert costs[0] < 0.2 * costs[1]


@pytest.mark.parametrize("part", [0, 1, 2])
def test_beliefs_are_proper(terms: Terms, part: int) -> None:
    precision = terms.prior(Spreads(), part)
    np.testing.assert_allclose(precision, precision.T)
    assert np.linalg.eigvalsh(precision).min() > 0


def test_ramp_and_bow_are_without_mean() -> None:
    course = ramp_and_bow(np.linspace(30, 230, 20001), (30.0, 230.0))
    np.testing.assert_allclose(course.mean(axis=0), 0.0, atol=1e-4)
    np.testing.assert_allclose(course[[0, -1]], [[-1, 2 / 3], [1, 2 / 3]])
