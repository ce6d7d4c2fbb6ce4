"""Correcting blocks against another library's interpolation of the same grids."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from colormatch.fitting.applying import Correction
from colormatch.model import FloatArray

RNG = np.random.default_rng(1)
STEP = 16
SHAPE = (6 * STEP, 8 * STEP)
PIXELS = RNG.integers(0, 65536, (*SHAPE, 3)).astype(np.uint16)
CORRECTION = Correction(
    decode=np.sort(RNG.random((65536, 3)), axis=0).astype(np.float32),
    scattered=(0.02 * RNG.random((6, 8, 3))).astype(np.float32),
    lamp=(0.9 + 0.2 * RNG.random((6, 8))).astype(np.float32),
    step=STEP,
    matrix=(np.eye(3) + 0.1 * RNG.random((3, 3))).astype(np.float32),
)


@pytest.fixture(scope="module")
def reference() -> NDArray[np.float64]:
    """By scipy.ndimage.map_coordinates, order 1, ends held, and numpy's product."""
    from scipy.ndimage import map_coordinates

    at = (np.mgrid[: SHAPE[0], : SHAPE[1]] - (STEP - 1) / 2) / STEP

    def stretched(grid: FloatArray) -> NDArray[np.float64]:
        return np.asarray(map_coordinates(grid.astype(float), at, order=1, mode="nearest"))

    light = np.stack(
        [
            (CORRECTION.decode[PIXELS[..., c], c] - stretched(CORRECTION.scattered[..., c]))
            * stretched(1 / CORRECTION.lamp)
            for c in range(3)
        ],
        axis=-1,
    )
    return np.asarray(light @ CORRECTION.matrix.T.astype(float))


@pytest.mark.usefixtures("either_way")
@pytest.mark.parametrize("rows", [(0, 96), (0, 1), (5, 40), (90, 96)])
def test_full_rows_are_corrected(reference: NDArray[np.float64], rows: tuple[int, int]) -> None:
    start, stop = rows
    light = CORRECTION.widened(SHAPE[1]).apply(PIXELS[start:stop], start)
    np.testing.assert_allclose(light, reference[start:stop], atol=2e-6)


@pytest.mark.usefixtures("either_way")
@pytest.mark.parametrize("window", [(0, 0, 96, 128), (3, 0, 20, 9), (40, 61, 9, 67)])
def test_windows_are_corrected_both_ways(
    reference: NDArray[np.float64], window: tuple[int, int, int, int]
) -> None:
    row, column, height, width = window
    part = np.s_[row : row + height, column : column + width]
    for way in (CORRECTION, CORRECTION.widened(SHAPE[1])):
        light = way.apply(PIXELS[part], row, column)
        np.testing.assert_allclose(light, reference[part], atol=2e-6)
