"""Elements and axes of the drawings."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup

from colormatch.reporting.svg import Axes, drawing, tag, text, ticks
from tests.reporting.reading import drawn


def test_texts_and_attributes_are_escaped_once() -> None:
    inner = tag("title", "<b> & co")
    whole = tag("g", inner, aria_label='"quoted" <a>', class_="x", x1=1.5)
    root = drawn(whole)
    assert root.attrib == {"aria-label": '"quoted" <a>', "class": "x", "x1": "1.5"}
    assert root[0].text == "<b> & co"
    assert isinstance(whole, Markup)


def test_a_drawing_scales_and_says_what_it_is() -> None:
    root = drawn(drawing(340, 250.25, "a <plot>", text(1, 2, "word")))
    assert root.get("viewBox") == "0 0 340 250.25"
    assert root.get("role") == "img"
    assert root.get("aria-label") == "a <plot>"
    assert root[0].text == "word"


@given(
    low=st.floats(-1e4, 1e4),
    length=st.floats(1e-3, 1e5),
    wanted=st.integers(2, 8),
)
def test_ticks_lie_inside_evenly_and_not_too_many(low: float, length: float, wanted: int) -> None:
    span = (low, low + length)
    values = ticks(span, wanted)
    slack = 1e-6 * (abs(low) + length)
    assert all(span[0] - slack <= v <= span[1] + slack for v in values)
    assert len(values) <= wanted + 1
    steps = [b - a for a, b in pairwise(values)]
    assert all(s == pytest.approx(steps[0], rel=1e-5, abs=1e-8) for s in steps)


def test_ticks_are_round() -> None:
    assert ticks((0.0, 100.0)) == [0, 20, 40, 60, 80, 100]
    assert ticks((-0.3, 0.3), 3) == [-0.2, 0.0, 0.2]


def test_axes_put_values_where_they_belong() -> None:
    axes = Axes(x=(0, 10), y=(-1, 1), width=120, height=80, left=10, right=10, top=5, bottom=15)
    assert axes.at(0, -1) == (10, 65)
    assert axes.at(10, 1) == (110, 5)
    assert axes.at(5, 0) == (60, 35)
