"""Widths of the blend against its kernels; what must not change does not."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from colormatch.joining.blending import blended, halo, with_halo
from colormatch.model import Window


def step(levels: int, height: float = 0.5, size: int = 768) -> NDArray[np.float32]:
    """Two even tiles, the right one lighter, blended; one row of the result."""
    labels = np.zeros((64, size), np.uint8)
    labels[:, size // 2 :] = 1
    cut = (0.25 + height * labels)[..., None].repeat(3, axis=2).astype(np.float32)
    left, right = (np.full_like(cut, light) - cut for light in (0.25, 0.25 + height))
    return blended(cut, labels, {0: left, 1: right}, levels)[32, :, 1]


# Source of the widths: the binomial kernels' variances, 1, 4, 16, … px² per halving and
# again per doubling; for 3 levels sqrt(42) · 2.56 = 16.6 px from 10 to 90 %.
@pytest.mark.parametrize("levels", [1, 2, 3, 4])
def test_a_step_is_crossed_in_the_width_its_kernels_have(levels: int) -> None:
    row = (step(levels) - 0.25) / 0.5
    x = np.arange(len(row))
    ten, ninety = (np.interp(share, row, x) for share in (0.1, 0.9))
    expected = 2.563 * np.sqrt(2 * sum(4**k for k in range(levels)))
    assert ninety - ten == pytest.approx(expected, rel=0.06)


def test_three_levels_cross_in_about_16_pixels_and_without_overshoot() -> None:
    row = step(3)
    ten, ninety = (np.interp(0.25 + s * 0.5, row, np.arange(len(row))) for s in (0.1, 0.9))
    assert 15 < ninety - ten < 18
    assert (np.diff(row) >= -1e-6).all()


def test_far_from_the_seam_nothing_changes() -> None:
    row = step(3)
    assert (row[: 384 - halo(3)] == np.float32(0.25)).all()
    assert (row[384 + halo(3) :] == np.float32(0.75)).all()


def test_fine_detail_is_crossed_in_fewer_pixels_than_light() -> None:
    size = 512
    labels = np.zeros((64, size), np.uint8)
    labels[:, size // 2 :] = 1
    fine = np.where(np.arange(size) % 2, 0.1, -0.1).astype(np.float32)
    cut = np.broadcast_to((fine * labels)[..., None], (64, size, 3)).copy()
    detail = np.broadcast_to(fine[None, :, None], cut.shape)
    row = blended(cut, labels, {0: -cut, 1: detail - cut}, 3)[32, :, 0]
    strength = np.abs(row - np.roll(row, 1)) / 0.2
    assert (strength[1 : size // 2 - 6] < 0.1).all()
    assert (strength[size // 2 + 6 : -4] > 0.9).all()


def test_equal_tiles_stay_bit_for_bit() -> None:
    rng = np.random.default_rng(1)
    cut = rng.random((80, 96, 3), dtype=np.float32)
    labels = rng.integers(0, 3, (80, 96)).astype(np.uint8)
    zero = np.zeros_like(cut)
    np.testing.assert_array_equal(blended(cut.copy(), labels, {0: zero, 1: zero, 2: zero}), cut)


@pytest.mark.parametrize("at", [(0, 0), (100, 204), (300, 500)])
def test_windows_with_halo_start_where_halving_starts(at: tuple[int, int]) -> None:
    inner = Window(row=at[0], column=at[1], height=90, width=70)
    outer = with_halo(inner, 3, 400, 580)
    assert outer.row % 8 == outer.column % 8 == 0
    assert outer.row == 0 or inner.row - outer.row >= 32
    assert outer.row + outer.height == min(inner.row + inner.height + 32, 400)
    assert outer.column + outer.width == min(inner.column + inner.width + 32, 580)
