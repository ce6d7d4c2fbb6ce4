"""Squares of a picture against scipy.ndimage."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import affine_transform

from colormatch.placing import resampling
from colormatch.placing.poses import turning
from colormatch.placing.splines import picture_coefficients

TURNS = [0.0, 0.7, 90.0, -91.3, 180.4]


@pytest.fixture(params=[True, False])
def quick(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both ways, the quick one only where this version of OpenCV is exact."""
    exact = resampling.bilinear_is_exact()
    if request.param and not exact:
        pytest.skip("this OpenCV rounds places to 1/32 pixel")
    monkeypatch.setattr(resampling, "bilinear_is_exact", lambda: bool(request.param))


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("scale", [1.0, 1.31])
def test_a_square_is_that_of_scipy(turn: float, scale: float) -> None:
    picture = np.random.default_rng(1).standard_normal((150, 170)).astype(np.float32)
    linear = scale * turning(turn) @ np.array([[1.0003, -0.004], [0.0041, 0.9997]])
    middle, side = np.array([82.213, 71.87]), 64
    expected = affine_transform(
        picture.astype(float),
        linear[::-1, ::-1],
        (middle - linear @ np.full(2, (side - 1) / 2.0))[::-1],
        output_shape=(side, side),
        order=3,
        mode="mirror",
    )
    found = resampling.square(picture_coefficients(picture), middle, linear, side)
    # White noise is the hardest: it changes by its whole spread within a pixel.
    np.testing.assert_allclose(found, expected, atol=2e-4)


@pytest.mark.usefixtures("quick")
def test_at_the_rim_the_picture_is_mirrored() -> None:
    picture = np.random.default_rng(2).standard_normal((40, 40)).astype(np.float32)
    expected = affine_transform(
        picture.astype(float), np.eye(2), (-3.4, 20.3), output_shape=(24, 24), mode="mirror"
    )
    middle = np.array([20.3, -3.4]) + 23.0 / 2.0
    found = resampling.square(picture_coefficients(picture), middle, np.eye(2), 24)
    np.testing.assert_allclose(found, expected, atol=2e-4)
