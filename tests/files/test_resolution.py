"""Pixels per inch out of the units of the formats."""

from __future__ import annotations

import math

import pytest

from colormatch.files.resolution import PER_INCH, resolution


def test_inch_and_centimetre() -> None:
    assert resolution(300, 300, PER_INCH[2]) == ((300, 300), ())
    ppi, notes = resolution(118.11, 118.11, PER_INCH[3])
    assert ppi == pytest.approx((299.9994, 299.9994))
    assert notes == ()


@pytest.mark.parametrize(
    ("x", "y", "per_inch"),
    [
        (300, 300, None),
        (1, 1, 1.0),
        (1, 1, 2.54),
        (0, 300, 1.0),
        (300, -300, 1.0),
        (math.nan, 300, 1.0),
        (math.inf, math.inf, 1.0),
        (1e9, 1e9, 1.0),
    ],
)
def test_what_says_nothing_is_none(x: float, y: float, per_inch: float | None) -> None:
    assert resolution(x, y, per_inch) == (None, ())


def test_a_difference_is_noted_beyond_half_a_percent() -> None:
    assert resolution(600, 602, 1.0)[1] == ()
    assert resolution(600, 606, 1.0)[1] == ("its resolution differs: 600 ppi across, 606 ppi down",)
