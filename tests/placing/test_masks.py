"""Painting against lid, strip and shadow."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from colormatch.placing.masks import painting_mask
from tests.placing.scenes import random_field

PITCH = 0.7


def scan_with_lid(lid: float) -> tuple[NDArray[np.float32], NDArray[np.bool_], NDArray[np.float64]]:
    """Overview, where the painting truly is, and the strip's corners."""
    rng = np.random.default_rng(3)
    overview = np.full((400, 300, 3), lid, dtype=np.float32)
    overview *= (1.0 - 0.04 * np.linspace(-1, 1, 300) ** 2)[None, :, None]
    overview += 0.002 * rng.standard_normal(overview.shape)
    truth = np.zeros((400, 300), dtype=bool)
    truth[60:, 70:] = True
    paint = 0.5 + 0.12 * random_field(rng, (400, 300), 1.0, 1.0)
    paint[200:260, 150:220] = lid
    overview[truth] = np.clip(paint, 0, 1)[truth][:, None] * np.array([1.0, 0.95, 0.8])
    overview[58:60, 70:] *= 0.8
    overview[60:, 68:70] *= 0.8
    corners = np.array([[15.0, 80.0], [45.0, 80.0], [45.0, 340.0], [15.0, 340.0]])
    overview[80:340, 15:45] = rng.random((260, 30, 3)) * 0.9
    return overview.astype(np.float32), truth, corners


def with_shadow(truth: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Add the dark line beside the painting, which a mask cannot tell from paint."""
    return np.asarray(ndimage.binary_dilation(truth, np.ones((5, 5), dtype=bool)))


@pytest.mark.parametrize("lid", [0.93, 0.4])
def test_lid_and_strip_are_left_out(lid: float) -> None:
    overview, truth, corners = scan_with_lid(lid)
    mask = painting_mask(overview, PITCH, (corners,))
    assert not (mask & ~with_shadow(truth)).any()
    assert mask[truth].mean() > 0.97


def test_without_a_strip_a_white_lid_is_found_at_the_border() -> None:
    overview, truth, _ = scan_with_lid(0.93)
    overview[80:340, 15:45] = 0.93
    mask = painting_mask(overview, PITCH)
    assert not (mask & ~with_shadow(truth)).any()
    assert mask[truth].mean() > 0.97


def test_a_painting_over_the_whole_glass_stays_whole() -> None:
    rng = np.random.default_rng(4)
    paint = np.clip(0.5 + 0.12 * random_field(rng, (300, 200), 1.0, 1.0), 0, 1)
    mask = painting_mask(np.repeat(paint[..., None], 3, axis=2), PITCH)
    assert mask.mean() > 0.999


def test_a_bare_lid_has_no_painting() -> None:
    assert not painting_mask(np.full((120, 90, 3), 0.95, dtype=np.float32), PITCH).any()


def test_a_bare_paper_border_is_left_out() -> None:
    overview, truth, corners = scan_with_lid(0.93)
    sheet = ndimage.binary_dilation(truth, np.ones((21, 21), dtype=bool))
    border = sheet & ~np.asarray(with_shadow(truth))
    border[80:340, 15:45] = False
    overview[border] = [0.86, 0.85, 0.80]
    overview[with_shadow(truth) & ~truth] = [0.86, 0.85, 0.80]
    edge = np.asarray(ndimage.binary_dilation(sheet, np.ones((3, 3), dtype=bool))) & ~sheet
    overview[edge] *= 0.8
    mask = painting_mask(overview, PITCH, (corners,))
    assert not (mask & ~truth).any()
    assert mask[truth].mean() > 0.97
