"""Clipping and specks in small surveys of which every speck is known."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.inspecting.clipping import blocked_shadows, clipped_lights
from colormatch.inspecting.specks import dust, glare
from colormatch.model import FloatArray, Survey
from tests.inspecting.paintings import encoded, strokes

STEP = 2
PITCH = (0.34, 0.34)
PX_PER_MM = STEP / PITCH[0]


def survey_of(values: FloatArray, bits: int = 16) -> Survey:
    """Survey a whole picture of encoded values, (H, W, 3)."""
    codes = np.round(values * (2**bits - 1)).astype(np.uint8 if bits == 8 else np.uint16)
    rows, columns = (n // STEP for n in values.shape[:2])
    blocks = codes[: rows * STEP, : columns * STEP].reshape(rows, STEP, columns, STEP, 3)
    return Survey(
        step=STEP,
        small=(blocks.mean(axis=(1, 3)) / (2**bits - 1)).astype(np.float32),
        lightest=blocks.max(axis=(1, 3)),
        darkest=blocks.min(axis=(1, 3)),
        lines=np.empty((0, 0, 3), np.float32),
        line_rows=np.empty(0),
        lanes=np.empty((0, 0, 3), np.float32),
    )


def picture(seed: int = 0) -> FloatArray:
    return strokes((600, 500), np.random.default_rng(seed))


ALL = np.ones((300, 250), bool)


@pytest.mark.parametrize("bits", [8, 16])
def test_an_overexposed_patch_of_sky_is_measured(bits: int) -> None:
    rng = np.random.default_rng(1)
    light = picture()
    light[100:160, 200:260] = 1.2
    found = clipped_lights(survey_of(encoded(light, rng), bits), ALL, PITCH)
    assert found.measure == pytest.approx(100 * 60 * 60 / (600 * 500), rel=0.05)
    x, y, width, height = found.places[0]
    assert (x, y) == pytest.approx((200 / PX_PER_MM, 100 / PX_PER_MM), abs=0.5)
    assert (width, height) == pytest.approx((60 / PX_PER_MM,) * 2, abs=0.8)


def test_half_clipped_noise_counts_and_one_channel_is_enough() -> None:
    rng = np.random.default_rng(2)
    light = picture()
    light[300:340, 50:130, 0] = 1.0
    assert clipped_lights(survey_of(encoded(light, rng)), ALL, PITCH).beyond


@pytest.mark.parametrize("seed", range(3))
def test_a_high_key_picture_that_just_fits_is_not_clipped(seed: int) -> None:
    rng = np.random.default_rng(seed)
    light = np.clip(picture(seed) * 0.1 + 0.87, 0, 0.955)
    assert clipped_lights(survey_of(encoded(light, rng)), ALL, PITCH).measure == 0


def test_glints_are_no_lost_lights() -> None:
    rng = np.random.default_rng(3)
    light = picture()
    for row, column in rng.integers(10, 490, (200, 2)):
        light[row : row + 3, column : column + 3] = 1.5
    assert not clipped_lights(survey_of(encoded(light, rng)), ALL, PITCH).beyond


def test_blocked_shadows_are_measured_and_dark_paint_is_not() -> None:
    rng = np.random.default_rng(4)
    light = np.clip(picture() * 0.05, 0.004, None)
    assert blocked_shadows(survey_of(encoded(light, rng)), ALL, PITCH).measure == 0
    black = np.maximum(light - 0.012, 0)
    share = 100 * float((black.min(axis=2) <= 0).mean())
    found = blocked_shadows(survey_of(encoded(black, rng)), ALL, PITCH)
    # Lost is told per block of four pixels, gaps and single specks not counted.
    assert found.measure == pytest.approx(share, rel=0.35)


def test_reflections_are_counted_and_white_paint_is_not() -> None:
    rng = np.random.default_rng(5)
    light = np.clip(picture() * 0.3, 0, 0.3)
    paper = np.full(3, 0.8 ** (1 / 2.2))
    dots = rng.integers(20, 480, (60, 2))
    painted = light.copy()
    for row, column in dots:
        # The whitest paint sends back a little more than paper.
        painted[row : row + 3, column : column + 3] = 0.8 * 1.05
    assert glare(survey_of(encoded(painted, rng)), ALL, paper, 2.2, PITCH).measure == 0
    for row, column in dots:
        light[row : row + 2, column : column + 3] = 1.1
    found = glare(survey_of(encoded(light, rng)), ALL, paper, 2.2, PITCH)
    assert found.beyond
    assert 50 <= found.count <= 60


def test_dust_is_counted_on_bare_glass_only() -> None:
    rng = np.random.default_rng(6)
    light = picture()
    painting = np.zeros((300, 250), bool)
    painting[:150] = True
    light[300:] = 0.8
    none = np.zeros_like(painting)
    clean = dust(survey_of(encoded(light, rng)), painting, none, 2.2, PITCH)
    assert clean is not None
    assert clean.measure == 0
    for row, column in zip(rng.integers(340, 590, 60), rng.integers(8, 490, 60), strict=True):
        light[row, column : column + 2] = 0.4
    found = dust(survey_of(encoded(light, rng)), painting, none, 2.2, PITCH)
    assert found is not None
    assert 45 <= found.count <= 60
    assert found.beyond


def test_the_rim_of_a_sheet_is_no_dust() -> None:
    rng = np.random.default_rng(7)
    light = np.full((600, 500, 3), 0.8)
    for row in range(600):
        edge = 200 + round(row * 0.01)
        light[row, edge:] = 0.88
        light[row, edge : edge + 1] = 0.6
    none = np.zeros((300, 250), bool)
    found = dust(survey_of(encoded(light, rng)), none, none, 2.2, PITCH)
    assert found is not None
    assert not found.beyond


def test_without_bare_glass_dust_is_not_judged() -> None:
    rng = np.random.default_rng(8)
    light = survey_of(encoded(picture(), rng))
    assert dust(light, ALL, ~ALL, 2.2, PITCH) is None
