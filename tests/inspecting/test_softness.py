"""Lifted sides in pictures of texture whose blur is known."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.inspecting.records import Noticed
from colormatch.inspecting.softness import lifted_sides, pixel_noise
from colormatch.model import FloatArray, Survey

PX_PER_MM, STEP = 8.0, 4
PITCH = (STEP / PX_PER_MM,) * 2
SHAPE = (1360, 1280)
NOISE = 0.004


def texture(rng: np.random.Generator) -> FloatArray:
    """Draw brushwork whose energy falls with the square of the frequency; encoded values."""
    white = rng.standard_normal(SHAPE, dtype=np.float32)
    down, across = np.fft.fftfreq(SHAPE[0])[:, None], np.fft.rfftfreq(SHAPE[1])[None]
    shaped = np.fft.rfft2(white) / np.maximum(np.hypot(down, across), 0.002)
    field = np.fft.irfft2(shaped, SHAPE)
    return np.asarray(np.clip(0.5 + 0.08 * field / field.std(), 0.05, 0.95), np.float32)


def lifted(picture: FloatArray, blur_mm: float, side: str, width_mm: float = 26.0) -> FloatArray:
    """Blur a picture toward its left or top side, at the side by ``blur_mm``."""
    import cv2

    turned = picture if side == "left" else np.ascontiguousarray(picture.T)
    levels = np.linspace(0, 1, 9)
    soft: list[FloatArray] = [turned]
    soft += [
        np.asarray(cv2.GaussianBlur(turned, (0, 0), blur_mm * PX_PER_MM * v)) for v in levels[1:]
    ]
    depth = np.arange(turned.shape[1]) / PX_PER_MM
    share = np.clip(1 - depth / width_mm, 0, 1) ** 1.5
    nearest = np.abs(levels[:, None] - share).argmin(axis=0)
    out = np.stack(soft)[nearest, :, np.arange(turned.shape[1])].T
    return out if side == "left" else np.ascontiguousarray(out.T)


def looked_at(picture: FloatArray, rng: np.random.Generator) -> Noticed:
    """Scan a picture with noise and ask it."""
    seen = picture[..., None] + rng.normal(0, NOISE, (*picture.shape, 3)).astype(np.float32)
    rows = np.linspace(0, SHAPE[0] // STEP - 1, 96).astype(int)
    by_block = seen.reshape(SHAPE[0] // STEP, STEP, SHAPE[1], 3)
    survey = Survey(
        step=STEP,
        small=np.zeros((SHAPE[0] // STEP, SHAPE[1] // STEP, 3), np.float32),
        lightest=np.empty((0, 0, 3), np.uint16),
        darkest=np.empty((0, 0, 3), np.uint16),
        lines=by_block[rows].mean(axis=1),
        line_rows=rows * STEP + (STEP - 1) / 2,
        lanes=np.empty((0, 0, 3), np.float32),
    )
    patches = np.linspace(0.1, 0.9, 12)[:, None].repeat(3, axis=1)
    noise = pixel_noise(patches, np.full_like(patches, NOISE))
    return lifted_sides(survey, np.ones(survey.small.shape[:2], bool), noise, PITCH)


@pytest.mark.parametrize("seed", range(3))
def test_even_texture_is_nowhere_lifted(seed: int) -> None:
    rng = np.random.default_rng(seed)
    assert not looked_at(texture(rng), rng).beyond


@pytest.mark.parametrize("side", ["left", "top"])
def test_a_lifted_side_is_told_with_its_blur_and_place(side: str) -> None:
    rng = np.random.default_rng(1)
    found = looked_at(lifted(texture(rng), 0.3, side), rng)
    assert found.beyond
    # Within the first 10 mm a zone of 26 mm has half of the rim's 0.3 mm and more.
    assert 0.12 < found.measure < 0.32
    assert found.count == 1
    x, y, width, height = found.places[0]
    assert (x, y) == pytest.approx((0, 0))
    assert (height if side == "left" else width) > 150
    assert (width if side == "left" else height) < 20


def test_paint_that_is_flatter_at_one_side_but_as_crisp_is_not_lifted() -> None:
    rng = np.random.default_rng(2)
    picture = texture(rng)
    share = np.clip(np.arange(SHAPE[1]) / PX_PER_MM / 26, 0.3, 1).astype(np.float32)
    assert not looked_at((picture - 0.5) * share + 0.5, rng).beyond


def test_one_smooth_passage_at_a_side_is_not_a_lifted_side() -> None:
    rng = np.random.default_rng(3)
    picture = texture(rng)
    picture[:500] = lifted(picture, 0.3, "left")[:500]
    assert not looked_at(picture, rng).beyond


def test_flat_paint_says_nothing() -> None:
    rng = np.random.default_rng(4)
    flat = np.full(SHAPE, 0.5, np.float32)
    assert looked_at(flat, rng).measure == 0
