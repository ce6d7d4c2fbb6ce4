"""Plots of the patches: every value at its place."""

from __future__ import annotations

import pytest

from colormatch.reporting.patch_plots import (
    ab_plot,
    lengthening,
    lightness_plot,
    limits,
    patch_bars,
)
from colormatch.standards.tolerances import levels_reached, tolerance_set
from colormatch.verdict import PatchReport
from tests.reporting.reading import drawn
from tests.reporting.records import patches

MATCHED = levels_reached(tolerance_set("matched"), {"mean_de00": 1.0})


def test_limits_of_the_same_formula_are_drawn() -> None:
    assert limits(MATCHED) == [("mean ≤ 2", 2.0), ("P95 ≤ 4", 4.0)]
    other = levels_reached(tolerance_set("metamorfoze-2012"), {"mean_de76": 1.0})
    assert limits(other) == []
    assert limits(None) == []


def test_bars_are_as_high_as_their_values() -> None:
    root = drawn(patch_bars(patches(), MATCHED))
    high = [(e.get("class"), float(e.get("height") or 0)) for e in root
            if (e.get("class") or "").startswith("bar")]  # fmt: skip
    assert [kind for kind, _ in high] == ["bar out", "bar in"] * 2
    unit = high[0][1] / 1.6
    assert [h / unit for _, h in high] == pytest.approx([1.6, 1.1, 0.4, 0.3], abs=0.01)
    lines = [float(e.get("y1") or 0) for e in root if e.get("class") == "limit"]
    assert lines[0] - lines[1] == pytest.approx(2.0 * unit, abs=0.02)


def test_vectors_point_from_wanted_to_scanned() -> None:
    root = drawn(ab_plot(patches(), 10.0))
    errors = [e for e in root if e.get("class") == "error"]
    assert len(errors) == 2
    # The first patch is scanned 1 too yellow: its vector points up by ten units.
    x1, y1, x2, y2 = (float(errors[0].get(k) or 0) for k in ("x1", "y1", "x2", "y2"))
    assert x1 == pytest.approx(x2)
    assert y2 < y1


def test_long_vectors_are_lengthened_less() -> None:
    far = PatchReport(id="X", wanted=(50, 0, 0), scanned=(50, 15, 0), fitted=1, left_out=1)
    further = PatchReport(id="X", wanted=(50, 0, 0), scanned=(50, 60, 0), fitted=1, left_out=1)
    assert [lengthening(p) for p in (patches(), [far], [further])] == [10.0, 2.0, 1.0]


def test_lightness_errors_start_at_zero_and_point_up_when_too_light() -> None:
    root = drawn(lightness_plot(patches()))
    zero = float(next(e for e in root if e.get("class") == "zero").get("y1") or 0)
    first = next(e for e in root if e.get("class") == "error")
    assert float(first.get("y1") or 0) == pytest.approx(zero)
    assert float(first.get("y2") or 0) < zero
