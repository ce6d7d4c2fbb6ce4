"""Shifts of blocks: bias, error, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage
from scipy.signal.windows import tukey

from colormatch.placing.shifts import TAPER, UNSEEN, Template, measured_shifts, taper
from colormatch.placing.tiles import band_passed
from tests.placing.scenes import random_field

SIDE = 96
Blocks = NDArray[np.float32]


@pytest.mark.parametrize("size", [16, 17, 96])
def test_the_window_is_scipys(size: int) -> None:
    line = tukey(size, TAPER)
    np.testing.assert_allclose(taper(size), np.outer(line, line), atol=1e-6)


def shifted_blocks(count: int, noise: float, reach: float) -> tuple[Blocks, Blocks, Blocks]:
    """Band-passed blocks, the same shifted by spline order 5 (scipy.ndimage), the shifts."""
    rng = np.random.default_rng(5)
    shifts = rng.uniform(-reach, reach, (count, 2))
    first: list[Blocks] = []
    second: list[Blocks] = []
    for shift in shifts:
        field = random_field(rng, (SIDE + 40, SIDE + 40), 0.8, 2.0)
        moved = ndimage.shift(field, shift[::-1], order=5, mode="mirror")
        for blocks, picture in ((first, field), (second, moved)):
            noisy = picture + noise * rng.standard_normal(picture.shape)
            blocks.append(band_passed(noisy.astype(np.float32), 1.2, 9.0)[20:-20, 20:-20])
    return (
        np.array(first, dtype=np.float32),
        np.array(second, dtype=np.float32),
        np.asarray(shifts, dtype=np.float32),
    )


def test_small_shifts_are_found_without_bias() -> None:
    first, second, true = shifted_blocks(40, 0.0, 0.3)
    error = measured_shifts(first, second, 4).shift - true
    assert np.abs(error.mean(axis=0)).max() < 0.002
    assert np.abs(error).max() < 0.01


def test_large_shifts_are_found() -> None:
    first, second, true = shifted_blocks(40, 0.0, 7.0)
    found = measured_shifts(first, second, 12)
    assert np.abs(found.shift - true).max() < 0.5
    assert found.peak.min() > 0.5


def test_a_first_look_finds_what_the_full_one_does() -> None:
    first, second, _ = shifted_blocks(40, 0.1, 7.0)
    template = Template(first)
    shift, peak = template.found(second, 12)
    found = measured_shifts(first, second, 12)
    np.testing.assert_allclose(shift, found.shift, atol=0.001)
    np.testing.assert_allclose(peak, found.peak, atol=1e-4)
    again = template.measured(second, 12)
    np.testing.assert_array_equal(again.shift, found.shift)
    np.testing.assert_array_equal(again.covariance, found.covariance)


def test_the_predicted_error_is_the_error() -> None:
    first, second, true = shifted_blocks(200, 0.5, 0.2)
    found = measured_shifts(first, second, 4)
    error = found.shift - true
    squares = np.einsum("ki,kij,kj->k", error, np.linalg.inv(found.covariance), error)
    # Chi-squared with two degrees of freedom has mean 2; 200 blocks give it to 7 %.
    assert 1.4 < squares.mean() < 2.8


def test_unrelated_blocks_have_no_peak() -> None:
    first, _, _ = shifted_blocks(20, 0.0, 0.2)
    found = measured_shifts(first, np.roll(first, 1, axis=0), 6)
    assert np.median(found.peak) < 0.3


def test_a_shift_beyond_the_search_is_refused() -> None:
    first, _, _ = shifted_blocks(4, 0.0, 0.2)
    found = measured_shifts(first, np.roll(first, 12, axis=2), 6)
    # The correlation falls off slowly: its largest value lies at the border.
    assert (found.peak < 0.6).all()


def test_stripes_show_one_direction_only() -> None:
    rng = np.random.default_rng(8)
    line = random_field(rng, (1, SIDE), 0.5, 2.0)
    first = np.repeat(line, SIDE, axis=0)[None]
    noise = 0.01 * rng.standard_normal((2, 1, SIDE, SIDE)).astype(np.float32)
    found = measured_shifts(first + noise[0], first + noise[1], 4)
    assert abs(found.shift[0, 0]) < 0.02
    values, vectors = np.linalg.eigh(found.covariance[0])
    assert values[0] < 0.01**2
    assert abs(vectors[0, 0]) > 0.999
    assert values[1] > 0.5 * UNSEEN


@pytest.mark.parametrize("value", [0.0, 1.0])
def test_flat_blocks_are_refused(value: float) -> None:
    flat = np.full((2, SIDE, SIDE), value, dtype=np.float32)
    found = measured_shifts(flat, flat, 4)
    assert (found.peak < 0.3).all() or (found.covariance[:, 0, 0] > 0.5 * UNSEEN).all()
