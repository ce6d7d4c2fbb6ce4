"""Strips drawn from the layout, with their patches moved by known amounts."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from colormatch.files.layouts import shipped_layouts
from colormatch.inspecting.flatness import (
    LIMIT_MM,
    bend,
    ground_lines,
    profile,
    rows_of,
    sample_lines,
    shifts,
)
from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray

LAYOUT = shipped_layouts()["strip-long"]
PX_PER_MM = 6.0
POSE = np.array([[PX_PER_MM, 0.0, -0.5], [0.0, PX_PER_MM, -0.5]])


def scanned(moved: FloatArray, seed: int = 0) -> FloatArray:
    """Draw a strip whose column at u = x / length is moved by ``moved`` (K,), even in u, mm."""
    rng = np.random.default_rng(seed)
    rows, columns = round(LAYOUT.height * PX_PER_MM), round(LAYOUT.width * PX_PER_MM)
    fine = 4
    x = (np.arange(columns * fine) + 0.5) / PX_PER_MM / fine
    y = (np.arange(rows) + 0.5) / PX_PER_MM
    x = x - np.interp(x / LAYOUT.width, np.linspace(0, 1, len(moved)), moved)
    sheet = np.full((rows, columns * fine, 3), 0.45)
    for field in LAYOUT.fields:
        tone = {"white": 0.93, "black": 0.15, "grey": 0.45}[field.kind]
        here = (x >= field.x) & (x < field.x + field.width)
        sheet[:, here] = tone
    for patch in LAYOUT.patches:
        across = (x >= patch.x) & (x < patch.x + patch.width)
        down = (y >= patch.y) & (y < patch.y + patch.height)
        sheet[np.ix_(down, across)] = rng.uniform(0.1, 0.9, 3)
    seen = sheet.reshape(rows, columns, fine, 3).mean(axis=2)
    soft = gaussian_filter(seen, (0.6, 0.6, 0))
    return np.asarray(soft + rng.normal(0, 0.004, soft.shape), dtype=np.float32)


def judged(values: FloatArray) -> Noticed | None:
    rows, found = rows_of(LAYOUT), []
    above = ground_lines(LAYOUT, rows[0])
    for row in rows:
        x, y = sample_lines(LAYOUT, row)
        ground = profile(values, (0.0, 0.0), POSE, x, above)
        found.append(shifts(profile(values, (0.0, 0.0), POSE, x, y), ground, x, LAYOUT, row))
    return bend(np.concatenate(found))


U = np.linspace(0, 1, 61)


@pytest.mark.parametrize("seed", range(3))
def test_a_flat_strip_is_flat(seed: int) -> None:
    found = judged(scanned(0 * U, seed))
    assert found is not None
    assert found.measure < LIMIT_MM / 4


@pytest.mark.parametrize("seed", range(2))
def test_one_that_is_only_longer_or_elsewhere_is_flat(seed: int) -> None:
    found = judged(scanned(0.05 + 0.1 * U, seed))
    assert found is not None
    assert not found.beyond


@pytest.mark.parametrize("height", [0.4, 0.7])
def test_a_bow_is_measured(height: float) -> None:
    moved = height * (4 * U * (1 - U))
    left = moved - np.polyval(np.polyfit(U, moved, 1), U)
    found = judged(scanned(moved))
    assert found is not None
    assert found.beyond
    # A patch that is itself stretched fits best with its middle: a little is lost.
    assert found.measure == pytest.approx(np.quantile(np.abs(left), 0.9), rel=0.3)


def test_the_waves_of_a_carriage_bend_nothing() -> None:
    found = judged(scanned(0.05 * np.sin(2 * np.pi * U * 180 / 31)))
    assert found is not None
    assert not found.beyond
