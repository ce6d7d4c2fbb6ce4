"""The light round a place against scipy's filter and interpolation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, map_coordinates

from colormatch.fitting.flare import REACHES_MM, Surroundings, blurred

STEP = 48.0


def around(seed: int) -> Surroundings:
    picture = np.random.default_rng(seed).random((41, 30, 3))
    return Surroundings(picture=picture, step=STEP, mm_per_px=2.0)


@pytest.mark.parametrize("sigma", [0.1, 0.7, 5.0, 45.0])
def test_blurred_is_scipys_gaussian_filter(sigma: float) -> None:
    light = around(1).picture.astype(np.float32)
    expected = gaussian_filter(light.astype(float), (sigma, sigma, 0), mode="nearest", truncate=3.0)
    np.testing.assert_allclose(blurred(light, sigma), expected, rtol=0, atol=1e-6)


def test_maps_are_read_as_scipy_reads_them() -> None:
    surroundings = around(2)
    maps = surroundings.maps(lambda encoded: encoded)
    # Also places on the rim and beyond it, where the rim goes on.
    points = np.random.default_rng(3).uniform(-100, 2100, (200, 2))
    place = (points[:, ::-1].T - (STEP - 1) / 2) / STEP
    expected = [
        [map_coordinates(plane[..., c], place, order=1, mode="nearest") for c in range(3)]
        for plane in maps
    ]
    found = surroundings.at(maps, points)
    assert found.shape == (200, len(REACHES_MM), 3)
    np.testing.assert_allclose(found, np.transpose(expected, (2, 0, 1)), rtol=0, atol=1e-6)
