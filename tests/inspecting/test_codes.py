"""Steps of the scale by CIE 15, and blocks left by a real JPEG encoder (Pillow's libjpeg)."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from colormatch.colour.spaces import lab_from_xyz
from colormatch.inspecting.codes import BLOCK_LIMIT, block_edges, dark_step, holds_eight_bits
from colormatch.model import FloatArray
from tests.inspecting.paintings import encoded, strokes


@pytest.mark.parametrize("factor", [256, 257])
def test_sixteen_bits_that_hold_eight(factor: int) -> None:
    rng = np.random.default_rng(0)
    codes = (rng.integers(0, 256, (100, 120, 3)) * factor).astype(np.uint16)
    assert holds_eight_bits(codes)
    assert not holds_eight_bits(rng.integers(0, 65536, (100, 120, 3)).astype(np.uint16))


def test_few_pixels_and_eight_bit_files_tell_nothing() -> None:
    assert not holds_eight_bits(np.zeros((10, 10, 3), np.uint16))
    assert not holds_eight_bits(np.zeros((100, 100, 3), np.uint8))


@pytest.mark.parametrize("power", [1.0, 1.8, 2.2])
@pytest.mark.parametrize("bits", [8, 16])
def test_the_step_in_the_darks_is_that_of_cielab(bits: int, power: float) -> None:
    light = ((10 + 16) / 116) ** 3
    code = light ** (1 / power) * (2**bits - 1)
    y = (np.array([code - 0.5, code + 0.5]) / (2**bits - 1)) ** power
    xyz = np.stack([y * 0.9642, y, y * 0.8249], axis=1)
    lightness = lab_from_xyz(xyz)[:, 0]
    assert dark_step(bits, power).measure == pytest.approx(np.diff(lightness)[0], rel=0.03)


def saved(values: FloatArray, quality: int) -> FloatArray:
    stream = io.BytesIO()
    Image.fromarray(np.round(values * 255).astype(np.uint8)).save(stream, "JPEG", quality=quality)
    with Image.open(stream) as picture:
        return np.asarray(np.asarray(picture, dtype=float).mean(axis=2) / 255)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("crop", [0, 3])
def test_a_poor_jpeg_shows_its_blocks_wherever_it_is_cut(seed: int, crop: int) -> None:
    rng = np.random.default_rng(seed)
    values = encoded(strokes((300, 320), rng), rng)
    assert block_edges([saved(values, 40)[crop:, crop:]]).measure > BLOCK_LIMIT


@pytest.mark.parametrize("seed", range(5))
def test_untouched_pictures_show_none(seed: int) -> None:
    rng = np.random.default_rng(seed)
    values = encoded(strokes((300, 320), rng), rng)
    assert block_edges([values.mean(axis=2)]).measure < BLOCK_LIMIT / 2


def test_a_weave_of_eight_pixels_is_no_jpeg() -> None:
    rng = np.random.default_rng(1)
    rows, columns = np.indices((300, 320))
    weave = 0.5 + 0.1 * np.sin(2 * np.pi * rows / 8) * np.sin(2 * np.pi * columns / 8)
    assert not block_edges([weave + rng.normal(0, 0.01, weave.shape)]).beyond
