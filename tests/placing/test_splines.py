"""Splines against scipy.interpolate."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import BSpline
from scipy.ndimage import spline_filter

from colormatch.placing.splines import (
    Knots,
    picture_coefficients,
    spline_design,
    spline_values,
)


@pytest.fixture
def knots() -> Knots:
    return Knots.over(-100.0, 60.0, 25.0)


def test_knots_cover_the_range_no_farther_apart_than_asked(knots: Knots) -> None:
    assert knots.spacing <= 25.0
    assert knots.start + knots.spacing * (knots.count - 3) == pytest.approx(60.0)


def test_values_are_those_of_scipy(knots: Knots) -> None:
    # scipy.interpolate.BSpline with the same uniform knots.
    rng = np.random.default_rng(1)
    coefficients = rng.standard_normal((knots.count, 2))
    t = knots.start + knots.spacing * (np.arange(knots.count + 4) - 3)
    places = rng.uniform(-100.0, 60.0, 200)
    expected = BSpline(t, coefficients, 3)(places)
    np.testing.assert_allclose(spline_values(places, coefficients, knots), expected, atol=1e-12)
    np.testing.assert_allclose(spline_design(places, knots) @ coefficients, expected, atol=1e-12)


def test_beyond_the_knots_it_goes_on_straight(knots: Knots) -> None:
    rng = np.random.default_rng(2)
    coefficients = rng.standard_normal((knots.count, 1))
    t = knots.start + knots.spacing * (np.arange(knots.count + 4) - 3)
    slope = BSpline(t, coefficients, 3).derivative()
    for end, outward in ((-100.0, -40.0), (60.0, 70.0)):
        value, far = spline_values(np.array([end, end + outward]), coefficients, knots)[:, 0]
        assert far - value == pytest.approx(outward * float(slope(end)[0]))


@pytest.mark.parametrize("shape", [(40, 57), (7, 90)])
def test_coefficients_of_a_picture_are_those_of_scipy(shape: tuple[int, int]) -> None:
    picture = np.random.default_rng(2).standard_normal(shape).astype(np.float32)
    expected = spline_filter(picture.astype(float), order=3, mode="mirror")
    np.testing.assert_allclose(picture_coefficients(picture), expected, atol=3e-6)
