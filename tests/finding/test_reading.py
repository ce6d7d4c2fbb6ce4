"""Robust means of patches."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.finding.agreement import expected_rgb
from colormatch.finding.reading import (
    PatchMean,
    Region,
    patch_mean,
    read_patch,
    trimmed_mean,
    usable_patches,
)
from colormatch.model import Patch
from tests.finding.scenes import Windows

PATCH = Patch(id="A01", x=2.0, y=2.0, width=6.0, height=6.0)
TEN = np.array([[10.0, 0, -0.5], [0, 10.0, -0.5]])


def _region(picture: Windows) -> Region:
    height, width = picture.picture.shape[:2]
    return Region(picture, (width, height), np.zeros(2), np.array([width, height]) - 1.0)


def test_trimmed_mean_is_scipys() -> None:
    values = np.random.default_rng(1).exponential(size=(357, 3))
    np.testing.assert_allclose(trimmed_mean(values), stats.trim_mean(values, 0.1, axis=0))


def test_reads_only_the_inside_of_the_patch() -> None:
    picture = np.full((100, 100, 3), 10, np.uint8)
    # The patch covers 20 to 80; of it, 58 % of the side is read.
    picture[33:67, 33:67] = (200, 150, 100)
    mean = read_patch(_region(Windows(picture)), TEN, PATCH)
    np.testing.assert_allclose(mean.rgb, np.array([200, 150, 100]) / 255)
    assert (mean.inliers, mean.clipped, mean.inside) == (1.0, 0.0, True)


def test_dust_and_hairs_do_not_move_the_mean() -> None:
    rng = np.random.default_rng(2)
    values = 0.5 + rng.normal(0, 0.01, (100, 100, 3))
    clean = read_patch(_region(Windows((values * 65535).astype(np.uint16))), TEN, PATCH)
    dirty = values.copy()
    dirty[40:46, :] = 0.05
    dirty[55:60, 50:56] = 0.95
    read = read_patch(_region(Windows((dirty * 65535).astype(np.uint16))), TEN, PATCH)
    np.testing.assert_allclose(read.rgb, clean.rgb, atol=0.001)
    np.testing.assert_allclose(clean.spread, 0.01, rtol=0.1)
    assert read.inliers == pytest.approx(1 - (6 * 34 + 30) / 34**2, abs=0.03)


def test_halves_follow_the_strips_own_axes() -> None:
    ramp = np.linspace(0.3, 0.7, 100)[None, :, None] * np.ones((100, 1, 3))
    picture = Windows((ramp * 65535).astype(np.uint16))
    slope = (ramp[0, 1, 0] - ramp[0, 0, 0]) * 0.58 * 60 / 2
    upright = read_patch(_region(picture), TEN, PATCH)
    np.testing.assert_allclose(upright.halves[0], slope, rtol=0.05)
    np.testing.assert_allclose(upright.halves[1], 0, atol=1e-4)
    turned = np.array([[0, -10.0, 99.5], [10.0, 0, -0.5]])
    sideways = read_patch(_region(picture), turned, PATCH)
    np.testing.assert_allclose(sideways.halves[0], 0, atol=1e-4)
    np.testing.assert_allclose(sideways.halves[1], -slope, rtol=0.05)


def test_counts_clipped_pixels_of_either_end() -> None:
    codes = np.full((100, 3), 120, np.uint8)
    codes[:7, 1] = 255
    codes[7:12, 2] = 0
    mean = patch_mean(codes, np.zeros((100, 2)))
    assert mean.clipped == pytest.approx(0.12)


def test_a_patch_beyond_the_border_is_outside() -> None:
    picture = Windows(np.full((45, 100, 3), 90, np.uint8))
    assert not read_patch(_region(picture), TEN, PATCH).inside


def test_windows_too_large_to_keep_are_read_patch_by_patch(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rng = np.random.default_rng(3)
    picture = Windows(rng.integers(0, 255, (100, 100, 3), dtype=np.uint8))
    kept = read_patch(_region(picture), TEN, PATCH)
    monkeypatch.setattr(Region, "MOST_PIXELS", 100)
    picture.pixels = 0
    fresh = read_patch(_region(picture), TEN, PATCH)
    np.testing.assert_array_equal(fresh.rgb, kept.rgb)
    assert picture.pixels < 50**2


def _means(name: str) -> tuple[list[PatchMean], np.ndarray]:
    expected = expected_rgb(shipped_layouts()[name], shipped_reference(name))
    read = 0.1 + 0.8 * expected
    means = [
        PatchMean(
            rgb=rgb,
            spread=np.full(3, 0.01),
            inliers=1.0,
            clipped=0.0,
            halves=np.full((2, 3), 0.002),
            inside=True,
        )
        for rgb in read
    ]
    return means, expected


@pytest.mark.parametrize("name", ["strip-long", "strip-short"])
def test_clean_patches_are_usable(name: str) -> None:
    assert usable_patches(*_means(name)).all()


@pytest.mark.parametrize(
    ("fault", "value"),
    [
        ("clipped", 0.2),
        ("inliers", 0.4),
        ("halves", np.full((2, 3), 0.2)),
        ("rgb", np.array([0.9, 0.1, 0.9])),
        ("inside", False),
    ],
)
def test_faulty_patches_are_not(fault: str, value: object) -> None:
    means, expected = _means("strip-long")
    object.__setattr__(means[5], fault, value)
    usable = usable_patches(means, expected)
    assert not usable[5]
    assert usable.sum() == len(means) - 1
