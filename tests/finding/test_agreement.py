"""Telling a strip's colours from a painting's."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.finding.agreement import (
    agreement,
    agrees,
    expectations,
    expected_rgb,
    linear_map,
    sampled_rgb,
)
from tests.finding import scenes

NAMES = ["strip-long", "strip-short"]


@pytest.mark.parametrize("name", NAMES)
def test_expected_values_are_the_codes_drawn(name: str) -> None:
    expected = expected_rgb(shipped_layouts()[name], shipped_reference(name)) * 255
    np.testing.assert_allclose(expected, expected.round(), atol=0.01)


@pytest.mark.parametrize("name", NAMES)
def test_prints_agree_whatever_printer_and_scanner(name: str) -> None:
    layout, reference = shipped_layouts()[name], shipped_reference(name)
    expected = expected_rgb(layout, reference)
    for seed in range(50):
        rng = np.random.default_rng(seed)
        light = scenes.printed(reference, rng)
        gains = rng.uniform(0.4, 1.0) * rng.uniform(0.8, 1, 3)
        read = np.array([light[p.id] for p in layout.patches]) * gains
        read = read ** (1 / rng.uniform(1.0, 2.6))
        read[rng.integers(len(read), size=len(read) // 8)] = rng.uniform(0, 1, 3)
        assert agrees(read, expected), (seed, agreement(read, expected))


@pytest.mark.parametrize("name", NAMES)
def test_other_colours_do_not_agree(name: str) -> None:
    layout, reference = shipped_layouts()[name], shipped_reference(name)
    expected = expected_rgb(layout, reference)
    for seed in range(600):
        rng = np.random.default_rng(seed)
        read = rng.uniform(0, 1, expected.shape)
        if seed % 2:
            read = rng.permutation(expected)
        assert not agrees(read, expected), (seed, agreement(read, expected))


@pytest.mark.parametrize("name", NAMES)
def test_turned_or_mirrored_strips_do_not_agree(name: str) -> None:
    layout = shipped_layouts()[name]
    expected = expected_rgb(layout, shipped_reference(name))
    corner = {
        (round(p.x + p.width / 2, 3), round(p.y + p.height / 2, 3)): i
        for i, p in enumerate(layout.patches)
    }
    for across, down in ((1, 1), (1, 0), (0, 1)):
        order = []
        for x, y in corner:
            x = layout.width - x if across else x
            y = layout.height - y if down else y
            order.append(min(corner, key=lambda at: np.hypot(at[0] - x, at[1] - y)))
        read = expected[[corner[at] for at in order]]
        assert not agrees(read, expected)


def test_linear_map_ignores_gaps_and_the_worst() -> None:
    rng = np.random.default_rng(1)
    expected = rng.uniform(0, 1, (40, 3))
    read = expected @ rng.normal(size=(3, 3)) + 0.1
    expected[3] = np.nan
    read[7] += 5
    residuals, kept = linear_map(read, expected)
    assert np.isnan(residuals[3]).all()
    assert not kept[[3, 7]].any()
    np.testing.assert_allclose(residuals[kept], 0, atol=1e-9)
    np.testing.assert_allclose(residuals[7], 5, atol=1e-9)


def test_patches_outside_the_picture_are_nan() -> None:
    layout = shipped_layouts()["strip-short"]
    small = np.full((66, 150, 3), 0.5, np.float32)
    read = sampled_rgb(small, np.array([[3.0, 0, 0], [0, 3.0, 0]]), layout)
    for patch, values in zip(layout.patches, read, strict=True):
        assert np.isnan(values).all() == (patch.x + 0.75 * patch.width > 50), patch.id


def test_refuses_a_layout_without_values() -> None:
    layouts = tuple(shipped_layouts().values())
    with pytest.raises(ValueError, match="no reference values for the layout strip-short"):
        expectations(layouts, {"strip-long": shipped_reference("strip-long")})
