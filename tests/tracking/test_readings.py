"""From rows to days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.drifts import INKS, LIGHTS, Quantity
from colormatch.tracking.causes import INKS_IN_LIGHT
from colormatch.tracking.readings import Curve, series_of, shares
from tests.files.log_entries import entry, unusable
from tests.tracking.histories import Plan, State, history


def test_a_curve_goes_through_its_points_and_straight_on_beyond_them() -> None:
    encoded = np.linspace(0.1, 0.9, 60)
    curve = Curve(encoded=np.log(encoded), linear=2.2 * np.log(encoded))
    x = np.array([0.05, 0.1, 0.33, 0.9, 0.97])
    np.testing.assert_allclose(np.exp(curve.at(x)), x**2.2, rtol=1e-3)


def test_shares_are_found_beside_dust() -> None:
    rng = np.random.default_rng(0)
    grey, excess = rng.uniform(0, 2, 50), rng.uniform(0, 2, 50)
    moved = 0.03 * grey + 0.1 * excess + 0.002 * rng.standard_normal(50)
    moved[:4] -= 0.4
    found = shares(moved, grey, excess)
    assert found == pytest.approx((0.03, 0.1), abs=0.004)


def test_patches_without_density_tell_nothing_of_an_ink() -> None:
    assert shares(np.zeros(50), np.linspace(0, 1, 50), np.full(50, 0.01)) is None
    assert shares(np.zeros(5), np.ones(5), np.ones(5)) is None


def test_scans_of_a_day_count_once_and_unusable_ones_not_at_all() -> None:
    rows = history(Plan(days=3))
    twice = [replace(rows[0], time="2025-01-06T15:00:00Z", scan="tile-2.tif")]
    (one,) = series_of(sorted([*rows, *twice, unusable()], key=lambda r: r.time))
    assert one.scans == 4
    assert [day.scans for day in one.days] == [2, 1, 1]
    assert one.trends == {}


def test_scanners_and_references_make_series_of_their_own() -> None:
    rows = history(Plan(days=2), Plan(days=2, scanner="B"), Plan(days=2, strip="second"))
    other = [replace(row, reference_key="else") for row in history(Plan(days=2))]
    found = series_of(sorted([*rows, *other], key=lambda r: r.time))
    assert [(s.scanner, s.strip) for s in found].count(("A", "first")) == 2
    assert len(found) == 4


def test_rows_without_readings_give_no_series() -> None:
    assert series_of([entry(), unusable()]) == ()
    (row, *_) = history(Plan(days=2))
    dark = tuple(replace(patch, light=(0.1, 0.1, -0.001)) for patch in row.patches)
    assert series_of([replace(row, patches=dark)]) == ()


def test_readings_tell_light_from_ink_as_it_was_simulated() -> None:
    dimmer = 100 * np.log(0.9)
    (plain,) = series_of(history(Plan(days=9, last=State(exposure=0.9))))
    (one,) = series_of(history(Plan(days=9, last=State(exposure=0.9, keep=(1, 0.9, 1, 1)))))
    for light in LIGHTS:
        # Each day's lamp is off by half a percent, and nine days are few.
        assert plain.trends[light].change == pytest.approx(dimmer, abs=2.0)
        # An ink that fades brightens the light greys; how far is what causes.py allows for.
        leak = INKS_IN_LIGHT * one.trends[INKS[1]].change
        assert one.trends[light].change == pytest.approx(dimmer + leak / 2, abs=2.0 + leak / 2)
    assert one.trends[INKS[1]].change == pytest.approx(10.0, rel=0.4)
    assert abs(one.trends[INKS[0]].change) < 1.0
    assert one.days[-1].values[Quantity.MEAN] < 1.0
