"""Sharpness against what the Gaussian blur's own formula says.

A Gaussian of sigma s multiplies amplitudes by exp(-2 pi^2 s^2 f^2) at frequency f
(Fourier transform of the Gaussian; any textbook), so the energy ratio of a band is
that squared, averaged over the picture's own spectrum.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from colormatch.joining.energies import BANDS, compare_blocks
from colormatch.joining.evidence import (
    BLOCK,
    LIFTED,
    SOFTER,
    measure_sharpness,
    plan_blocks,
    softness_maps,
)
from tests.joining.scenes import MM, STEP, canvas_of, side_by_side, textured, with_noise

SIDE = 192
FREQUENCY = np.hypot(np.fft.fftfreq(SIDE)[:, None], np.fft.rfftfreq(SIDE)[None])


def blurred(picture: np.ndarray, sigma: float) -> np.ndarray:
    transfer = np.exp(-2 * (np.pi * sigma * FREQUENCY) ** 2)
    return np.fft.irfft2(np.fft.rfft2(picture) * transfer, s=picture.shape)


def texture(rng: np.random.Generator) -> np.ndarray:
    """Amplitudes that fall as 1 / f."""
    gain = 1 / np.maximum(FREQUENCY, 1 / 64)
    picture = np.fft.irfft2(np.fft.rfft2(rng.standard_normal((SIDE, SIDE))) * gain)
    return np.asarray(picture / picture.std())


def expected(sigma: float) -> float:
    logs = []
    for low, high in BANDS:
        ring = FREQUENCY[(low <= FREQUENCY) & (high > FREQUENCY)]
        kept = np.exp(-4 * (np.pi * sigma * ring) ** 2)
        logs.append(np.log((kept / ring**2).sum() / (1 / ring**2).sum()))
    return float(np.mean(logs))


def compared(
    rng: np.random.Generator, sigma: float, contrast: float, noise: float, count: int = 24
) -> tuple[np.ndarray, np.ndarray]:
    middle = slice((SIDE - BLOCK) // 2, (SIDE + BLOCK) // 2)
    found = []
    for _ in range(count):
        paint = contrast * texture(rng)
        pair = [
            0.3 * (1 + picture + noise * rng.standard_normal(picture.shape))
            for picture in (blurred(paint, sigma), paint)
        ]
        found.append(compare_blocks(pair[0][middle, middle], 1.1 * pair[1][middle, middle]))
    logs, spreads = np.array(found).T
    return logs, spreads


@pytest.mark.parametrize("sigma", [0.0, 0.45, 0.9, 1.5])
def test_log_ratio_is_that_of_the_blur_in_spite_of_noise_and_gain(sigma: float) -> None:
    logs, spreads = compared(np.random.default_rng(1), sigma, contrast=0.05, noise=0.01)
    error = np.sqrt((spreads**2).mean() / len(logs))
    # A band is taken to be damped evenly. Where its fine end is damped much more than its
    # coarse end, the difference passes for noise: strong blurs look a little stronger.
    assert abs(logs.mean() - expected(sigma)) < 0.02 + 0.05 * abs(expected(sigma)) + 3 * error
    # The predicted spread is the true one, within what 24 samples can tell.
    assert 0.5 < spreads.mean() / logs.std() < 2.0


def test_the_two_limits_stand_for_the_blurs_they_name() -> None:
    # Sigma 0.45 px at the first limit; the second is four times as far, so twice the blur.
    assert expected(0.45) == pytest.approx(-SOFTER, abs=0.02)
    assert expected(0.9) == pytest.approx(-LIFTED, abs=0.06)


def test_flat_paint_is_not_measurable() -> None:
    _, spreads = compared(np.random.default_rng(2), 0.0, contrast=0.0005, noise=0.01)
    assert (spreads > 0.12).all()


def test_blocks_that_cannot_be_read_are_not_measurable() -> None:
    good = np.random.default_rng(3).uniform(0.2, 0.3, (BLOCK, BLOCK))
    for bad in (np.full_like(good, np.nan), np.zeros_like(good)):
        log, spread = compare_blocks(good, bad)
        assert np.isnan(log)
        assert spread == np.inf


def test_blocks_lie_in_both_tiles_a_few_millimetres_apart_and_are_not_too_many() -> None:
    light = np.full((900, 1400, 3), 0.3, np.float32)
    canvas = canvas_of(side_by_side(light, (400, 1003)))
    plan = plan_blocks(canvas.grid, *canvas.tiles)
    assert plan is not None
    corners, cells, pitch = plan
    assert abs(pitch * MM - 4.5) < 0.03
    assert corners[:, 1].min() >= 400
    assert (corners + BLOCK)[:, 1].max() <= 1003
    assert len(corners) > 0.5 * 600 * 900 / pitch**2 - 20
    assert (np.diff(np.unique(corners[:, 0])) == pitch).all()
    assert (corners == corners[0] + (cells - cells[0]) * pitch).all()
    few = plan_blocks(canvas.grid, *canvas.tiles, most=10)
    assert few is not None
    assert 3 <= len(few[0]) <= 12


def test_a_lifted_band_is_mapped_in_the_tile_that_was_lifted() -> None:
    rng = np.random.default_rng(4)
    light = textured(rng, 1200, 1600)
    tiles = side_by_side(light, (400, 1200))
    soft = cv2.GaussianBlur(light, (0, 0), 1.2)
    tiles[1][:, 400:700] = soft[:, 400:700]
    canvas = canvas_of(with_noise(tiles, rng, 0.01))
    evidence = measure_sharpness(canvas.grid, canvas.tiles, canvas.luminance)
    left, right = softness_maps(canvas.grid, canvas.tiles, evidence)
    start = canvas.tiles[1].column
    assert start == 400 // STEP
    # Away from its border, about a block wide, the band is known to be soft, the rest sharp.
    assert (right[20:-20, : 200 // STEP] > LIFTED).mean() > 0.98
    assert (right[20:-20, 440 // STEP : 780 // STEP] < SOFTER).mean() > 0.98
    assert (left[20:-20, 440 // STEP : 1180 // STEP] < SOFTER).mean() > 0.98
    # Where one tile alone is, there is nothing to compare.
    assert np.isnan(left[:, : 400 // STEP]).all()
    assert np.isnan(right[:, 1200 // STEP - start :]).all()


def test_flat_overlap_stays_unknown() -> None:
    rng = np.random.default_rng(5)
    light = np.full((600, 1000, 3), 0.3, np.float32)
    canvas = canvas_of(with_noise(side_by_side(light, (300, 700)), rng, 0.01))
    evidence = measure_sharpness(canvas.grid, canvas.tiles, canvas.luminance)
    assert all(
        np.isnan(softness).mean() > 0.9
        for softness in softness_maps(canvas.grid, canvas.tiles, evidence)
    )


def test_specks_of_glare_in_one_tile_do_not_make_the_other_look_softer() -> None:
    rng = np.random.default_rng(5)
    paint = np.exp(0.25 * gaussian_filter(rng.standard_normal((128, 128)), 1.5) * 5) * 0.03
    first, second = (paint * (1 + 0.01 * rng.standard_normal(paint.shape)) for _ in range(2))
    for row, column in rng.integers(8, 120, (6, 2)):
        first[row : row + 3, column : column + 3] = 0.9
    log, spread = compare_blocks(first, second)
    assert abs(log) < 0.1
    assert spread < 0.12


def test_a_blur_still_shows_beside_specks() -> None:
    rng = np.random.default_rng(6)
    paint = np.exp(0.25 * gaussian_filter(rng.standard_normal((128, 128)), 1.5) * 5) * 0.03
    soft = gaussian_filter(paint, 1.2)
    clean, _ = compare_blocks(paint, soft)
    soft[40:43, 60:63] = 0.9
    log, _ = compare_blocks(paint, soft)
    assert log == pytest.approx(clean, rel=0.15)
