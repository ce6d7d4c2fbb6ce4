"""Patches as anchors."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.levelling.anchoring import strip_anchors

RNG_SEED = 4


def test_the_scatter_of_the_inks_becomes_the_sigma_and_the_course_stays() -> None:
    rng = np.random.default_rng(RNG_SEED)
    x = np.linspace(20.0, 140.0, 60)
    points = np.column_stack([x, 10.0 + rng.uniform(0, 6, 60)])
    wanted = rng.uniform(0.05, 0.9, (60, 3))
    course = 0.04 * (x - 80.0) / 60.0
    light = wanted * np.exp(course[:, None] + 0.02 * rng.standard_normal((60, 3)))
    found = strip_anchors(points, light, wanted)
    np.testing.assert_allclose(found.sigma, 0.02, rtol=0.2)
    slope = np.polyfit(x, found.residual.mean(axis=1), 1)[0]
    # Three sigma of a slope from 60 patches of 2 % scatter, three channels.
    assert slope * 60.0 == pytest.approx(0.04, abs=3 * 0.02 / np.sqrt(60 * 3 / 3.0))


def test_darks_and_unreadable_patches_are_left_out() -> None:
    wanted = np.full((10, 3), 0.5)
    wanted[0, 1] = 0.01
    light = wanted.copy()
    light[1] = np.nan
    found = strip_anchors(np.arange(20.0).reshape(10, 2), light, wanted)
    np.testing.assert_array_equal(found.points, np.arange(20.0).reshape(10, 2)[2:])
    assert found.sigma[0] == 0.003


def test_too_few_patches_are_refused() -> None:
    with pytest.raises(InputError, match=r"need at least 4 patches light enough .* \(got 3\)"):
        strip_anchors(np.zeros((3, 2)), np.ones((3, 3)), np.ones((3, 3)))
