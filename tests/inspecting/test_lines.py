"""Streaks of known strength in pictures full of strokes."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.inspecting.lines import streaks
from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray
from tests.inspecting.paintings import encoded, strokes, with_margins

PX_PER_MM = 6.0


def scan(seed: int, along: tuple[float, float] = (2.0, 12.0)) -> FloatArray:
    rng = np.random.default_rng(seed)
    return with_margins(strokes((540, 420), rng, along), 40, 14)


def seen(light: FloatArray, seed: int = 0) -> Noticed:
    rng = np.random.default_rng(seed)
    lines = encoded(light, rng)[2::6]
    return streaks(lines, 2.2, PX_PER_MM, 90.0)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("percent", [2.0, 5.0])
def test_streaks_are_found_where_they_are(seed: int, percent: float) -> None:
    light = scan(seed)
    where = {60: 1, 203: 2, 350: 3}
    for number, (column, wide) in enumerate(where.items()):
        light[:, column : column + wide] *= 1 + (-1) ** number * percent / 100
    found = seen(light)
    assert found.count == 3
    assert found.measure == pytest.approx(percent, rel=0.25)
    places = sorted(x for x, _, _, _ in found.places)
    assert places == pytest.approx([c / PX_PER_MM for c in where], abs=2 / PX_PER_MM)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("along", [(2.0, 12.0), (12.0, 2.0), (40.0, 1.0)])
def test_a_painters_lines_are_none(seed: int, along: tuple[float, float]) -> None:
    # The last are upright strokes 40 to 360 pixels long: half the picture's height.
    assert not seen(scan(seed, along)).beyond


def test_a_line_painted_from_rim_to_rim_is_none() -> None:
    light = scan(5)
    light[40:-40, 250:252] *= 0.93
    assert not seen(light).beyond


def test_a_leaning_edge_is_none() -> None:
    light = scan(6)
    for row in range(40, 500):
        edge = 380 + round(row * 0.004)
        light[row, edge:] = 0.8
        light[row, edge] = 0.6
    assert not seen(light).beyond


def test_a_streak_of_one_colour_is_found() -> None:
    light = scan(7)
    light[:, 300:302, 2] *= 0.97
    assert seen(light).count == 1
