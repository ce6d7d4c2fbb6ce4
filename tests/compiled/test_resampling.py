"""Compiled resampling against OpenCV's, and its bound against scipy's filters."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from colormatch.compiled import library
from colormatch.compiled.resampling import SUBPIXELS, resample

if not library.available():
    pytest.skip("there was no C compiler when this was installed", allow_module_level=True)

HEIGHT, WIDTH = 40, 52
CORNER = 7, 11
FREE = 1e4
"""An overshoot that bounds nothing."""


def picture(channels: int) -> NDArray[np.float32]:
    shape = (HEIGHT, WIDTH, 3) if channels == 3 else (HEIGHT, WIDTH)
    return np.random.default_rng(1).random(shape, dtype=np.float32)


def places(inside: int) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Anywhere in the window at every 1/32 pixel, ``inside`` pixels from its edge or more."""
    rng = np.random.default_rng(2)
    ends = [
        ((first + inside) * SUBPIXELS, (first + length - 1 - inside) * SUBPIXELS)
        for first, length in ((CORNER[1], WIDTH), (CORNER[0], HEIGHT))
    ]
    x, y = (rng.integers(*end, (50, 100)).astype(np.int32) for end in ends)
    return x, y


@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("inside", [0, 4])
def test_light_is_what_opencv_gives(channels: int, inside: int) -> None:
    light, (x, y) = picture(channels), places(inside)
    whole = np.stack([x // SUBPIXELS - CORNER[1], y // SUBPIXELS - CORNER[0]], axis=-1)
    part = (y % SUBPIXELS) * SUBPIXELS + x % SUBPIXELS
    expected = cv2.remap(
        light,
        whole.astype(np.int16),
        part.astype(np.uint16),
        cv2.INTER_LANCZOS4,
        borderMode=cv2.BORDER_REPLICATE,
    )
    found = resample(light, (x, y), CORNER, overshoot=FREE, undershoot=FREE)
    np.testing.assert_allclose(found, expected, atol=2e-6)


@pytest.mark.parametrize("channels", [1, 3])
def test_light_keeps_to_the_samples_around(channels: int) -> None:
    light, (x, y) = picture(channels), places(4)
    free = resample(light, (x, y), CORNER, overshoot=FREE, undershoot=FREE)
    found = resample(light, (x, y), CORNER, overshoot=0.1, undershoot=0.5)
    # The 4 × 4 samples around a place begin one before it: scipy centres an even
    # window one later, which an origin of -1 puts right.
    size, origin = (4, 4, 1)[: light.ndim], (-1, -1, 0)[: light.ndim]
    at = y // SUBPIXELS - CORNER[0], x // SUBPIXELS - CORNER[1]
    low = ndimage.minimum_filter(light, size, origin=origin)[at]
    high = ndimage.maximum_filter(light, size, origin=origin)[at]
    beyond = 0.1 * (high - low)
    expected = np.clip(free, np.maximum(low - beyond, 0.5 * low), high + beyond)
    copied = (x % SUBPIXELS == 0) & (y % SUBPIXELS == 0)
    expected[copied] = light[at][copied]
    np.testing.assert_allclose(found, expected, atol=1e-6)
    assert not np.allclose(found, free, atol=1e-3)


def test_a_pixel_at_its_centre_is_copied_bit_for_bit() -> None:
    light = picture(3) - np.float32(0.5)
    y, x = np.mgrid[:HEIGHT, :WIDTH].astype(np.int32)
    at = (x + CORNER[1]) * SUBPIXELS, (y + CORNER[0]) * SUBPIXELS
    found = resample(light, at, CORNER, overshoot=0.1, undershoot=0.5)
    np.testing.assert_array_equal(found, light)


def test_beyond_the_window_its_edge_is_held() -> None:
    light = picture(3)
    far = np.array([[-900.3, 5000.7]]) * SUBPIXELS
    x, y = far.astype(np.int32), far[:, ::-1].astype(np.int32)
    found = resample(light, (x, y), CORNER, overshoot=0.1, undershoot=0.5)
    np.testing.assert_array_equal(found[0], [light[-1, 0], light[0, -1]])


def test_views_and_other_kinds_of_number_are_taken() -> None:
    light, (x, y) = picture(3), places(4)
    options = {"overshoot": 0.1, "undershoot": 0.5}
    plain = resample(light, (x, y), CORNER, **options)
    mirrored = resample(np.ascontiguousarray(light[:, ::-1])[:, ::-1], (x, y), CORNER, **options)
    np.testing.assert_array_equal(mirrored, plain)
    turned = resample(light, (x.T, y.T), CORNER, **options)
    np.testing.assert_array_equal(turned, plain.transpose(1, 0, 2))
