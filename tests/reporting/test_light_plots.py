"""Plots of light: tone curve, fall-off, gains."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.reporting.light_plots import fall_off, gains_plot, short, tone_curve
from tests.reporting.reading import drawn


def curve(*powers: float) -> np.ndarray:
    encoded = np.linspace(0, 1, 9)
    return np.column_stack([encoded, *(encoded**p for p in powers)])


def kinds(svg: str) -> list[str]:
    return [e.get("class") or "" for e in drawn(svg) if e.tag == "polyline"]


def test_channels_that_share_a_curve_are_one_line() -> None:
    assert kinds(tone_curve(curve(2.2, 2.2, 2.2))) == ["zero", "curve ink"]
    several = kinds(tone_curve(curve(2.0, 2.2, 2.4)))
    assert several == ["zero", "curve red", "curve green", "curve blue"]


def test_a_plain_power_lies_on_the_curve_it_is_compared_with() -> None:
    lines = [e.get("points") for e in drawn(tone_curve(curve(2.2, 2.2, 2.2)))
             if e.tag == "polyline"]  # fmt: skip
    assert lines[0] == lines[1]


def test_the_darker_end_is_lower() -> None:
    lamp = np.column_stack([[-1.0, 0.0, 1.0], [95.0, 100.0, 102.0]])
    line = next(e for e in drawn(fall_off(lamp)) if e.get("class") == "curve one")
    left, middle, right = (float(p.split(",")[1]) for p in (line.get("points") or "").split())
    assert left > middle > right


def test_every_tile_has_a_sign_per_channel_at_its_light() -> None:
    root = drawn(gains_plot(["a.tif", "<b>.tif"], [(1.0, 1.0, 1.0), (0.9, 1.1, 1.0)]))
    circles = [float(e.get("cx") or 0) for e in root if e.tag == "circle"]
    squares = [float(e.get("x") or 0) + 4.5 for e in root if e.tag == "rect"]
    assert circles[1] < circles[0] < squares[1]
    assert squares[1] - circles[0] == pytest.approx(circles[0] - circles[1])
    assert sum(e.tag == "polygon" for e in root) == 2
    assert "<b>.tif" in [e.text for e in root]


def test_a_long_name_keeps_its_ends() -> None:
    cut = short("scan-of-the-upper-left-corner-1.tif")
    assert len(cut) <= 14
    assert cut.startswith("scan-of")
    assert cut.endswith("1.tif")
    assert short("a.tif") == "a.tif"
