"""Light against analytic waves and a fifth-order spline."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.compiled.resampling import SUBPIXELS
from colormatch.joining.places import Lattice, Places
from colormatch.joining.warping import OVERSHOOT, resampled, stretched
from colormatch.model import Window
from tests.joining.pieces import BLOCK, Waves, grid, slanted, true_places, turned_map

pytestmark = pytest.mark.usefixtures("either_way")
SOURCE = Window(row=0, column=0, height=220, width=260)


@pytest.mark.parametrize("turns", range(4))
def test_whole_pixel_moves_copy_bit_for_bit(turns: int) -> None:
    picture = np.random.default_rng(2).random((90, 120, 3), dtype=np.float32)
    window = Window(row=3, column=5, height=90, width=120)
    mapping = turned_map(window, turns)
    scan = np.ascontiguousarray(np.rot90(picture, turns))
    out = resampled(scan, Lattice(mapping, 32).places(window), 0, 0)
    np.testing.assert_array_equal(out, picture)


# Errors of the 8 × 8 Lanczos kernel at 1/32 px as measured with OpenCV alone, per wave
# of that frequency: 0.4 % at 0.05 and 0.6 % at 0.1 cycles per pixel.
@pytest.mark.parametrize(("highest", "largest"), [(0.05, 0.005), (0.1, 0.008), (0.2, 0.016)])
def test_light_is_where_the_waves_say(highest: float, largest: float) -> None:
    waves = Waves.drawn(np.random.default_rng(3), highest)
    light = waves.light(grid(SOURCE)).astype(np.float32)
    out = resampled(light, Lattice(slanted, 32).places(BLOCK), 0, 0)
    error = out - waves.light(true_places(slanted, BLOCK))
    assert np.sqrt(np.mean(error**2)) / 0.1 < largest
    # No shift of the whole: less than a hundredth of a pixel along x and along y.
    for axis in (0, 1):
        slope = np.gradient(out, axis=axis)
        assert abs((error * slope).sum() / (slope**2).sum()) < 0.01


def test_light_agrees_with_a_fifth_order_spline() -> None:
    # Reference: scipy.ndimage.map_coordinates, order 5, true to 1e-4 for such waves.
    from scipy.ndimage import map_coordinates

    light = Waves.drawn(np.random.default_rng(4), 0.1).light(grid(SOURCE)).astype(np.float32)
    out = resampled(light, Lattice(slanted, 32).places(BLOCK), 0, 0)
    at = np.moveaxis(true_places(slanted, BLOCK)[..., ::-1], -1, 0)
    for c in range(3):
        spline = map_coordinates(light[..., c].astype(float), at, order=5)
        assert np.sqrt(np.mean((out[..., c] - spline) ** 2)) / 0.1 < 0.008


def shifted(share: float) -> Places:
    points = grid(BLOCK)
    return Places(
        x=np.round((points[..., 0] + share) * SUBPIXELS).astype(np.int32),
        y=(points[..., 1] * SUBPIXELS).astype(np.int32),
    )


@pytest.mark.parametrize("share", [0.25, 0.5, 0.71875])
def test_an_edge_does_not_ring_beyond_the_bound(share: float) -> None:
    edge = np.full((*grid(SOURCE).shape[:2], 3), 0.01, np.float32)
    edge[:, 130:] = 0.8
    out = resampled(edge, shifted(share), 0, 0)
    assert out.max() <= 0.8 + OVERSHOOT * 0.79 + 1e-6
    assert out.min() >= 0.01 / 2


def test_black_beside_white_stays_black() -> None:
    edge = np.zeros((*grid(SOURCE).shape[:2], 3), np.float32)
    edge[:, 130:] = 1
    assert resampled(edge, shifted(0.4), 0, 0).min() == 0


def test_a_grid_is_stretched_as_by_another_library() -> None:
    # Reference: scipy.ndimage.map_coordinates, order 1, ends held.
    from scipy.ndimage import map_coordinates

    coarse = np.random.default_rng(5).random((6, 7, 3)).astype(np.float32)
    window = Window(row=11, column=0, height=40, width=112)
    y, x = np.mgrid[11:51, 0:112]
    at = np.stack([(y - 7.5) / 16, (x - 7.5) / 16])
    out = stretched(coarse, 16, window)
    for c in range(3):
        same = map_coordinates(coarse[..., c], at, order=1, mode="nearest")
        np.testing.assert_allclose(out[..., c], same, atol=1e-6)


def test_a_flat_grid_of_one_place_is_held() -> None:
    out = stretched(
        np.full((1, 1), 0.9, np.float32), 64, Window(row=0, column=9, height=5, width=4)
    )
    assert out.shape == (5, 4, 1)
    assert (out == np.float32(0.9)).all()
