"""Compiled correction against numpy's arithmetic and scipy's interpolation of grids."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from colormatch.compiled import library
from colormatch.compiled.correcting import correct, four_wide, multiply

if not library.available():
    pytest.skip("there was no C compiler when this was installed", allow_module_level=True)

STEP = 7.5
RNG = np.random.default_rng(3)
GRID = RNG.random((6, 9, 4), dtype=np.float32)
WINDOWS = [((0, 0), (45, 67)), ((13, 22), (20, 30)), ((40, 60), (12, 20)), ((3, 5), (1, 1))]


def spread(grid: NDArray[np.float32], corner: tuple[int, int], shape: tuple[int, int]) -> object:
    """By scipy.ndimage.map_coordinates, order 1, ends held."""
    rows, columns = (np.arange(n) + first for n, first in zip(shape, corner, strict=True))
    centre = (STEP - 1) / 2
    at = np.meshgrid((rows - centre) / STEP, (columns - centre) / STEP, indexing="ij")
    layers = [
        ndimage.map_coordinates(grid[..., k].astype(float), at, order=1, mode="nearest")
        for k in range(grid.shape[2])
    ]
    return np.stack(layers, axis=-1)


@pytest.mark.parametrize(("corner", "shape"), WINDOWS)
@pytest.mark.parametrize("bits", [8, 16])
def test_codes_become_light(bits: int, corner: tuple[int, int], shape: tuple[int, int]) -> None:
    codes = RNG.integers(0, 2**bits, (*shape, 3)).astype(f"u{bits // 8}")
    decode = np.sort(RNG.random((2**bits, 3), dtype=np.float32), axis=0)
    matrix = (np.eye(3) + 0.2 * RNG.standard_normal((3, 3))).astype(np.float32)
    known = np.asarray(spread(GRID, corner, shape))
    even = np.stack([decode[codes[..., c], c] for c in range(3)], axis=-1) - known[..., :3]
    expected = (even * known[..., 3:]) @ matrix.T
    found = correct(codes, decode, four_wide(GRID[..., :3], GRID[..., 3]), STEP, corner, matrix)
    np.testing.assert_allclose(found, expected, atol=2e-6)


@pytest.mark.parametrize(("corner", "shape"), WINDOWS)
def test_light_is_multiplied(corner: tuple[int, int], shape: tuple[int, int]) -> None:
    light = RNG.random((*shape, 3), dtype=np.float32)
    expected = light * np.asarray(spread(GRID[..., :3], corner, shape))
    multiply(light, four_wide(GRID[..., :3]), STEP, corner)
    np.testing.assert_allclose(light, expected, atol=1e-6)


def test_a_grid_of_one_place_is_held() -> None:
    light = np.ones((5, 4, 3), np.float32)
    multiply(light, four_wide(np.full((1, 1, 3), 0.9, np.float32)), 64.0, (0, 9))
    assert (light == np.float32(0.9)).all()
