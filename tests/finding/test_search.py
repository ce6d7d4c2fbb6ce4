"""Places that look like marks: against rings drawn where they are."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from colormatch.finding.search import look_for_marks, ring_likeness
from colormatch.model import RING_EDGES, FloatArray


def _rings(kind: str, radius: float, centre: tuple[float, float], size: int) -> FloatArray:
    """Draw a mark by 8 x 8 points in each pixel."""
    fine = (np.arange(size * 8) + 0.5) / 8 - 0.5
    distance = np.hypot(fine[None, :] - centre[0], fine[:, None] - centre[1]) / radius
    value = np.where(distance < 1, 0.9, 0.45)
    for i, edge in enumerate(RING_EDGES[kind]):
        value[distance < edge] = (0.15, 0.9)[i % 2]
    return np.asarray(value.reshape(size, 8, size, 8).mean(axis=(1, 3)), np.float32)


@pytest.mark.parametrize("kind", ["eye", "hoop"])
@pytest.mark.parametrize("radius", [6.0, 10.3, 22.0, 70.0])
def test_finds_a_mark_of_its_kind(kind: str, radius: float) -> None:
    size = int(6 * radius)
    centre = (2.9 * radius + 0.3, 3.1 * radius - 0.4)
    places = look_for_marks(_rings(kind, radius, centre, size), radius)
    best = int(places.likeness.argmax())
    assert places.eyes[best] == (kind == "eye")
    assert places.likeness[best] > 0.85
    assert np.abs(places.points[best] - centre).max() < 0.06 * radius


@pytest.mark.parametrize("wrong", [0.94, 1.06])
def test_a_size_six_per_cent_off_still_shows(wrong: float) -> None:
    places = look_for_marks(_rings("eye", 10.3, (40.2, 39.7), 80), 10.3 * wrong)
    assert places.likeness.max() > 0.8


def test_likeness_does_not_depend_on_light_or_contrast() -> None:
    picture = _rings("hoop", 10.3, (40.0, 40.0), 80)
    faint = 0.3 + 0.3 * picture
    first, second = ring_likeness(picture, 10.3), ring_likeness(faint, 10.3)
    assert first[40, 40] == pytest.approx(second[40, 40], abs=2e-3)
    assert first[40, 40] < -0.9


def test_plain_and_noisy_pictures_show_nothing() -> None:
    rng = np.random.default_rng(4)
    for picture in (
        np.full((300, 200), 0.5, np.float32),
        rng.uniform(0, 1, (300, 200)).astype(np.float32),
        np.asarray(cv2.GaussianBlur(rng.random((300, 200)), (0, 0), 4), np.float32),
    ):
        assert len(look_for_marks(picture, 10.3).points) == 0


def test_marks_that_cannot_be_in_the_picture_are_not_looked_for() -> None:
    picture = np.zeros((50, 50), np.float32)
    assert len(look_for_marks(picture, 2.0).points) == 0
    assert len(look_for_marks(picture, 40.0).points) == 0
