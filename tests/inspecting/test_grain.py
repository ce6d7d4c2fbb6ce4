"""Noise against distributions of known spread."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.spaces import lab_from_xyz
from colormatch.finding.reading import patch_mean
from colormatch.inspecting.grain import MID_GREY, WEIGHTS, noise
from colormatch.model import FloatArray

LIGHTS = np.array([0.03, 0.08, 0.184, 0.4, 0.86])


def patches(
    shot: float, power: float, rng: np.random.Generator, dots: float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Read patches with photon noise, and printed dots in all but the ends, as codes."""
    rgb, spread = [], []
    for light in LIGHTS:
        grain = dots if 0.05 < light < 0.8 else 0.0
        field = light * (1 + rng.normal(0, grain, (900, 1)))
        field = field + rng.normal(0, 1, (900, 3)) * shot * np.sqrt(light)
        codes = np.clip(field, 0, 1) ** (1 / power) * 65535
        mean = patch_mean(codes.astype(np.uint16), rng.uniform(-1, 1, (900, 2)))
        rgb.append(mean.rgb)
        spread.append(mean.spread)
    return np.array(rgb), np.array(spread)


def lightness_spread(shot: float, rng: np.random.Generator) -> float:
    """Make many pixels at mid grey, convert them, and give the deviation of L*."""
    light = ((MID_GREY + 16) / 116) ** 3
    rgb = light + rng.normal(0, 1, (200_000, 3)) * shot * np.sqrt(light)
    y = rgb @ WEIGHTS
    xyz = np.stack([y * 0.9642, y, y * 0.8249], axis=1)
    return float(lab_from_xyz(xyz)[:, 0].std())


@pytest.mark.parametrize("power", [1.0, 1.8, 2.2])
@pytest.mark.parametrize("shot", [0.005, 0.05, 0.1])
def test_photon_noise_is_measured(power: float, shot: float) -> None:
    rng = np.random.default_rng(3)
    found = noise(*patches(shot, power, rng), power)
    assert found is not None
    # The median absolute deviation of 900 pixels is sure to about 4 %; a low
    # quantile of five patches and the curve's bend in the darks take the rest.
    assert found.measure == pytest.approx(lightness_spread(shot, rng), rel=0.15)


def test_printed_dots_are_not_taken_for_noise() -> None:
    rng = np.random.default_rng(4)
    clean = noise(*patches(0.005, 2.2, rng), 2.2)
    dotted = noise(*patches(0.005, 2.2, rng, dots=0.2), 2.2)
    assert clean is not None
    assert dotted is not None
    assert dotted.measure < 1.5 * clean.measure


def test_without_patches_nothing_is_said() -> None:
    assert noise(np.empty((0, 3)), np.empty((0, 3)), 2.2) is None
