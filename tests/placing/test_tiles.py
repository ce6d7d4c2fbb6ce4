"""The picture that is compared."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.model import Window
from colormatch.placing.tiles import LightTable, View, band_passed, block_means, log_light
from tests.placing.scenes import tile_of


def picture() -> np.ndarray[tuple[int, int, int], np.dtype[np.uint16]]:
    return np.random.default_rng(1).integers(0, 65536, (64, 96, 3)).astype(np.uint16)


def test_log_light_is_the_same_for_8_and_16_bits() -> None:
    eight = np.random.default_rng(1).integers(0, 256, (8, 8, 3)).astype(np.uint8)
    sixteen = eight.astype(np.uint16) * 257
    np.testing.assert_allclose(log_light(eight, None), log_light(sixteen, None), atol=1e-5)


def test_a_linearisation_is_used() -> None:
    half = np.full((2, 2, 3), 0.5, dtype=np.float32)
    assert log_light(half, lambda rgb: rgb[..., 1])[0, 0] == pytest.approx(np.log(0.506), abs=1e-5)


def test_a_table_takes_codes_and_shares_alike() -> None:
    level = np.linspace(0.0, 1.0, 65536)
    table = LightTable(np.stack([level**2, level**2.2, level], axis=1), np.array([0.2, 0.7, 0.1]))
    sixteen = picture()
    share = sixteen / 65535.0
    expected = 0.2 * share[..., 0] ** 2 + 0.7 * share[..., 1] ** 2.2 + 0.1 * share[..., 2]
    np.testing.assert_allclose(table(share), expected, atol=1e-5)
    for values in (sixteen, share):
        found = log_light(values, table)
        np.testing.assert_allclose(found, np.log(expected + 0.006), atol=1e-3)
    eight = (sixteen >> 8).astype(np.uint8)
    np.testing.assert_array_equal(
        log_light(eight, table), log_light(eight.astype(np.uint16) * 257, table)
    )
    np.testing.assert_allclose(table(np.array([[-1.0, 0.0, 2.0]])), [0.1], atol=1e-6)


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_a_view_at_half_scale_shows_means(kind: type[np.unsignedinteger]) -> None:
    pixels = (picture() >> (8 if kind is np.uint8 else 0)).astype(kind)
    tile = tile_of(pixels, name="a", ppi=150.0)
    top = np.iinfo(kind).max
    expected = pixels.reshape(32, 2, 48, 2, 3).mean(axis=(1, 3)) / top
    found = View(tile=tile, step=2).log(Window(row=0, column=0, height=32, width=48))
    # Rounded to half a code; the logarithm rises by 11.3 per unit at most, at 0.11.
    np.testing.assert_allclose(found, log_light(expected, None), atol=11.3 * 0.5 / 65535)


def test_band_pass_removes_level_and_ramp_and_keeps_detail() -> None:
    y, x = np.mgrid[0:128, 0:128].astype(np.float32)
    assert np.abs(band_passed(3.0 + 0.01 * x, 1.0, 9.0)[40:-40, 40:-40]).max() < 1e-4
    wave = np.sin(2 * np.pi * (x + y) / 17.0)
    assert band_passed(wave, 1.0, 9.0).std() > 0.5 * wave.std()


def test_block_means_are_means() -> None:
    pixels = picture()
    expected = pixels.reshape(16, 4, 24, 4, 3).mean(axis=(1, 3)) / 65535
    np.testing.assert_allclose(block_means(pixels, 4), expected, atol=1e-5)


def test_views_of_one_tile_agree() -> None:
    tile = tile_of(picture(), name="a", ppi=150.0, step=8)
    window = Window(row=1, column=2, height=4, width=5)
    np.testing.assert_allclose(
        View(tile=tile, step=8).log(window),
        log_light(block_means(tile.read(Window(row=8, column=16, height=32, width=40)), 8), None),
        atol=1e-5,
    )


def test_the_middle_of_a_block_is_its_place() -> None:
    view = View(tile=tile_of(picture(), name="a", ppi=150.0), step=4)
    there = view.scan_from_view(np.array([[0.0, 2.0]]))
    np.testing.assert_allclose(there, [[1.5, 9.5]])
    np.testing.assert_allclose(view.view_from_scan(there), [[0.0, 2.0]])
