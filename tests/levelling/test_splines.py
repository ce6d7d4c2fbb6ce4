"""Splines and what is believed of them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import kv

from colormatch.levelling.splines import Spline, differences_prior, field_prior, mean_prior


def test_a_spline_holds_every_cubic_exactly() -> None:
    spline = Spline.over(10.0, 70.0, spacing=13.0)
    x = np.linspace(10.0, 70.0, 200)
    design = spline.design(x)
    for power in range(4):
        wanted = ((x - 40.0) / 30.0) ** power
        found = np.linalg.lstsq(design, wanted, rcond=None)[0]
        np.testing.assert_allclose(design @ found, wanted, atol=1e-12)


def test_beyond_the_knots_the_end_holds() -> None:
    spline = Spline.over(0.0, 50.0, spacing=10.0)
    ends = spline.design(np.array([-30.0, 0.0, 50.0, 90.0]))
    np.testing.assert_array_equal(ends[0], ends[1])
    np.testing.assert_array_equal(ends[2], ends[3])


@pytest.mark.parametrize(("low", "high"), [(0.0, 0.0), (3.0, 3.1), (-5.0, 200.0)])
def test_weights_add_to_one(low: float, high: float) -> None:
    spline = Spline.over(low, high, spacing=20.0)
    weights = spline.design(np.linspace(low, high, 9))
    np.testing.assert_allclose(weights.sum(axis=1), 1.0, atol=1e-12)


def test_third_differences_let_a_parabola_pass() -> None:
    parabola = (np.arange(9) - 3.0) ** 2
    precision = differences_prior(9, 3, 0.1)
    assert parabola @ precision @ parabola == pytest.approx(0.0, abs=1e-9)
    cubic = np.arange(9.0) ** 3
    assert cubic @ precision @ cubic == pytest.approx(6 * 6.0**2 / 0.1**2)


def test_the_mean_prior_sees_the_mean_alone() -> None:
    precision = mean_prior(5, 0.5)
    value = np.array([1.0, -2.0, 3.0, 4.0, 4.0])
    assert value @ precision @ value == pytest.approx((2.0 / 0.5) ** 2)


def test_the_field_is_correlated_as_its_source_says() -> None:
    # Matérn correlation for smoothness 1, kappa r K1(kappa r), with range
    # sqrt(8) / kappa: Lindgren, Rue, Lindström 2011, section 2.1.
    size, step, reach = 31, 10.0, 80.0
    covariance = np.linalg.inv(field_prior((size, size), (step, step), reach=reach))
    middle = (size // 2) * size + size // 2
    kappa = np.sqrt(8.0) / reach
    for cells in (2, 4, 8):
        distance = kappa * cells * step
        found = covariance[middle, middle + cells] / covariance[middle, middle]
        assert found == pytest.approx(distance * kv(1, distance), abs=0.03)
    assert np.mean(np.diag(covariance)) == pytest.approx(1.0)
