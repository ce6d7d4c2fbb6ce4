"""Centres of marks: against rings drawn by sub-sampling at known places."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from colormatch.finding.centres import find_centre
from colormatch.model import RING_EDGES, FloatArray


def _mark(
    kind: str,
    radius: float,
    rng: np.random.Generator,
    *,
    gradient: float = 0.0,
    gamma: float = 1.0,
    hair: bool = False,
    scrap: bool = False,
) -> tuple[FloatArray, tuple[float, float]]:
    """Draw a mark on grey; give the picture and the exact centre."""
    size = int(2.6 * radius)
    centre = (size / 2 + rng.uniform(-1, 1), size / 2 + rng.uniform(-1, 1))
    fine = (np.arange(size * 6) + 0.5) / 6 - 0.5
    x, y = np.meshgrid(fine - centre[0], fine - centre[1])
    distance = np.hypot(x, y) / radius
    light = np.where(distance < 1, 0.85, 0.18)
    for i, edge in enumerate(RING_EDGES[kind]):
        light[distance < edge] = (0.03, 0.85)[i % 2]
    if hair:
        turn = rng.uniform(0, np.pi)
        across = np.cos(turn) * x + np.sin(turn) * y - 0.3 * radius
        light[np.abs(across) < 0.03 * radius] = 0.02
    if scrap:
        aside = rng.uniform(-0.6, 0.6, 2) * radius
        light[np.hypot(x - aside[0], y - aside[1]) < 0.3 * radius] = rng.uniform(0, 0.9)
    light *= 1 + gradient * x / size
    light = cv2.GaussianBlur(light, (0, 0), 6 * 0.9)
    coarse = light.reshape(size, 6, size, 6).mean(axis=(1, 3))
    return np.clip(coarse, 0, 1) ** (1 / gamma) + rng.normal(0, 0.008, coarse.shape), centre


def _errors(radius: float, count: int, **faults: float) -> FloatArray:
    rng = np.random.default_rng(7)
    errors = []
    for i in range(count):
        kind = ("eye", "hoop")[i % 2]
        picture, (x, y) = _mark(kind, radius, rng, **faults)  # type: ignore[arg-type]
        guess = (x + rng.uniform(-0.1, 0.1) * radius, y + rng.uniform(-0.1, 0.1) * radius)
        found = find_centre(picture, guess, np.eye(2) * radius / 3.5, 3.5, kind)
        assert found is not None
        if found.inliers > 0.78:
            assert found.clear
            errors.append(np.hypot(found.x - x, found.y - y))
    return np.array(errors)


@pytest.mark.parametrize("radius", [20.7, 41.0, 83.0])
def test_clean_marks_to_a_fiftieth_of_a_pixel(radius: float) -> None:
    errors = _errors(radius, 12)
    assert np.sqrt(np.mean(errors**2)) < 0.01
    assert errors.max() < 0.02


@pytest.mark.parametrize("radius", [20.7, 83.0])
def test_a_light_gradient_and_a_tone_curve_do_not_pull(radius: float) -> None:
    assert _errors(radius, 12, gradient=0.3, gamma=2.2).max() < 0.025


@pytest.mark.parametrize("radius", [20.7, 41.0])
def test_a_hair_or_a_scrap_hardly_pulls(radius: float) -> None:
    assert _errors(radius, 16, hair=True).max() < 0.05
    errors = _errors(radius, 16, scrap=True)
    assert len(errors) >= 6
    assert errors.max() < 0.06


def test_slant_and_unequal_scales_are_followed() -> None:
    rng = np.random.default_rng(3)
    picture, (x, y) = _mark("hoop", 41.0, rng)
    turn = np.deg2rad(33)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    found = find_centre(picture, (x + 2, y - 2), rotation * 41.3 / 3.5, 3.5, "hoop")
    assert found is not None
    assert found.scale == pytest.approx(41 / 41.3, abs=2e-3)
    assert np.hypot(found.x - x, found.y - y) < 0.02


def test_what_is_no_mark_is_not_clear() -> None:
    rng = np.random.default_rng(5)
    plain = np.full((80, 80), 0.5) + rng.normal(0, 0.01, (80, 80))
    noise = rng.uniform(0, 1, (80, 80))
    ramp = np.linspace(0, 1, 80)[None, :] * np.ones((80, 1))
    eye, (x, y) = _mark("eye", 30.0, rng)
    cases = [(plain, "eye"), (noise, "eye"), (ramp, "hoop"), (eye, "hoop")]
    for picture, kind in cases:
        found = find_centre(picture, (40.0, 40.0), np.eye(2) * 30 / 3.5, 3.5, kind)
        assert found is None or not found.clear
    found = find_centre(eye, (x, y), np.eye(2) * 30 / 3.5, 3.5, "eye")
    assert found is not None
    assert found.clear
