"""Tone curves against other libraries, and where a fit to the wrong strip drives them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from colormatch.colour.science import colour_science
from colormatch.fitting.tone import (
    BEND_KNOTS,
    Levels,
    ToneCurve,
    bend_at,
    bend_basis,
    straight,
)


def test_a_bend_is_a_natural_cubic_spline() -> None:
    # scipy.interpolate.CubicSpline with natural ends.
    rng = np.random.default_rng(4)
    values = rng.standard_normal(len(BEND_KNOTS))
    places = rng.uniform(BEND_KNOTS[0], BEND_KNOTS[-1], 200)
    expected = CubicSpline(BEND_KNOTS, values, bc_type="natural")(places)
    np.testing.assert_allclose(bend_basis(places) @ values, expected, atol=1e-12)
    np.testing.assert_allclose(bend_at(places, values), expected, atol=1e-12)


@pytest.mark.parametrize("base", ["power", "srgb"])
def test_prepared_levels_give_the_curves_light_and_its_slopes(base: str) -> None:
    rng = np.random.default_rng(6)
    encoded = rng.random((50, 3))
    bend = 0.05 * rng.standard_normal(len(BEND_KNOTS))
    curve = ToneCurve(base=base, exponent=1.8, bend=bend)
    levels = Levels.of(curve, encoded)
    np.testing.assert_allclose(levels.linear(curve), curve.linear(encoded), rtol=1e-12)
    by_exponent, by_bend = levels.slopes(curve)
    step = 1e-6
    moved = curve.changed(1.8 + step, bend).linear(encoded)
    np.testing.assert_allclose(by_exponent, (moved - curve.linear(encoded)) / step, atol=1e-4)
    for knot in range(len(BEND_KNOTS)):
        more = bend + step * (np.arange(len(bend)) == knot)
        slope = (curve.changed(1.8, more).linear(encoded) - curve.linear(encoded)) / step
        np.testing.assert_allclose(by_bend[..., knot], slope, atol=1e-5)


def test_the_srgb_form_is_that_of_the_standard() -> None:
    # IEC 61966-2-1 as colour-science has it.
    encoded = np.linspace(0, 1, 60).reshape(-1, 3)
    curve = ToneCurve(base="srgb", exponent=1.0, bend=straight())
    np.testing.assert_allclose(
        curve.linear(encoded), colour_science().models.eotf_sRGB(encoded), atol=1e-6
    )


@pytest.mark.parametrize("exponent", [-3.0, 0.0, 0.1])
def test_light_never_turns_round(exponent: float) -> None:
    encoded = np.linspace(0, 1, 60).reshape(-1, 3)
    light = ToneCurve(base="power", exponent=exponent, bend=straight()).linear(encoded).ravel()
    assert np.isfinite(light).all()
    assert (np.diff(light) > 0).all()
