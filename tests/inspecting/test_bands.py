"""Bands of known strength and period in pictures full of strokes."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.inspecting.bands import banding
from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray
from tests.inspecting.paintings import encoded, strokes, with_margins

PX_PER_MM = 6.0
LANES = 64


def scan(seed: int, along: tuple[float, float] = (2.0, 12.0)) -> FloatArray:
    rng = np.random.default_rng(seed)
    return with_margins(strokes((900, 384), rng, along), 60, 20)


def seen(light: FloatArray, seed: int = 0) -> Noticed:
    rng = np.random.default_rng(seed)
    values = encoded(light, rng)
    lanes = values.reshape(len(values), LANES, -1, 3).mean(axis=2)
    return banding(lanes.astype(np.float32), 2.2, PX_PER_MM)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("period", [2.5, 5.3, 9.0])
@pytest.mark.parametrize(("percent", "rough"), [(1.5, 0.3), (3.5, 1.0)])
def test_bands_are_found_with_their_period(
    seed: int, period: float, percent: float, rough: float
) -> None:
    # Where paint itself changes by a third within a few millimetres, only strong ones show.
    light = 0.3 * (scan(seed) / 0.3) ** rough
    waves = np.sin(2 * np.pi * np.arange(len(light)) / PX_PER_MM / period + seed)
    light *= (1 + percent / 100 * waves)[:, None, None]
    found = seen(light)
    assert found.measure == pytest.approx(percent, rel=0.3)
    assert found.places[0][3] == pytest.approx(period, rel=0.05)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("along", [(2.0, 12.0), (12.0, 2.0), (2.0, 60.0)])
def test_a_painters_strokes_are_none(seed: int, along: tuple[float, float]) -> None:
    assert not seen(scan(seed, along)).beyond


def test_a_weave_that_leans_is_none() -> None:
    light = scan(8)
    rows, columns = np.indices(light.shape[:2])
    # Threads 0.8 mm apart, the cloth laid 0.4 degrees out of square.
    threads = np.sin(2 * np.pi * (rows + columns * np.tan(np.deg2rad(0.4))) / PX_PER_MM / 0.8)
    light[60:-60, 20:-20] *= (1 + 0.08 * threads)[60:-60, 20:-20, None]
    assert not seen(light).beyond


def test_stripes_painted_in_half_the_picture_are_none() -> None:
    light = scan(9)
    waves = np.sin(2 * np.pi * np.arange(len(light)) / PX_PER_MM / 6)
    light[60:-60, 20:200] *= (1 + 0.1 * waves)[60:-60, None, None]
    assert not seen(light).beyond


def test_a_small_scan_says_nothing() -> None:
    assert seen(scan(1)[:200]).measure == 0
