"""Two overviews of one picture, one of them softened or shaded by known amounts."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from colormatch.joining.comparing import Overview, compare_overviews
from colormatch.joining.records import Remark
from colormatch.model import FloatArray

MM = 25.4 / 75
SHIFT = np.array([7.0, -4.0])


def picture(seed: int = 3) -> FloatArray:
    """Paint-like light: washes, strokes and grain, 300 x 240 pixels."""
    rng = np.random.default_rng(seed)
    noise = [gaussian_filter(rng.standard_normal((300, 240)), s) for s in (0.6, 2.0, 12.0)]
    log = sum(w * n / n.std() for w, n in zip((0.12, 0.15, 0.4), noise, strict=True))
    return np.exp(np.asarray(log) - 1.2)


def remarks(first: FloatArray, second: FloatArray, seed: int = 0) -> list[Remark]:
    """Compare two versions; the second is moved by whole pixels, both have noise."""
    rng = np.random.default_rng(seed)
    moved = np.roll(second, tuple(-SHIFT[::-1].astype(int)), axis=(0, 1))
    sides = [
        Overview(
            name=name,
            light=(light + 0.0006 * rng.standard_normal(light.shape)).astype(np.float32),
            valid=np.ones(light.shape, bool),
        )
        for name, light in (("one", first), ("two", moved))
    ]
    return compare_overviews(sides[0], sides[1], lambda points: points - SHIFT, MM)


def test_equal_tiles_under_slowly_differing_light_are_alike() -> None:
    rows, columns = np.indices((300, 240)) / 300
    light = 1.1 - 0.08 * columns + 0.05 * rows**2
    assert remarks(picture(), picture() * light) == []


def test_a_shadow_is_found_where_it_is_with_its_depth() -> None:
    shaded = picture()
    shaded[140:152, 20:220] *= 0.8
    found = [r for r in remarks(picture(), shaded) if r.kind != "softer"]
    largest = max(found, key=lambda r: r.size[0] * r.size[1])
    assert {*largest.tiles} == {"one", "two"}
    x, y, width, height = largest.box
    assert y == pytest.approx(140 * MM, abs=1.0)
    assert height == pytest.approx(12 * MM, abs=1.5)
    assert width > 150 * MM
    assert x + width / 2 == pytest.approx(120 * MM, abs=8)
    depth = largest.depth if largest.tiles[0] == "two" else -largest.depth
    # The darker one lacks a fifth; named from the other's side that is a quarter too much.
    assert depth == pytest.approx(0.2, abs=0.06)


@pytest.mark.parametrize("which", [0, 1])
def test_a_softer_half_is_told_of_its_tile(which: int) -> None:
    soft = picture()
    soft[150:] = gaussian_filter(picture(), 1.0)[150:]
    sides = (soft, picture()) if which == 0 else (picture(), soft)
    found = [r for r in remarks(*sides) if r.kind == "softer"]
    assert {r.tiles for r in found} == {(("one",), ("two",))[which]}
    largest = max(found, key=lambda r: r.box[2] * r.box[3])
    # One pixel of blur is 0.34 mm; paint's finest texture is weaker than white noise,
    # so that the estimate, made for white noise, stays below.
    assert 0.5 * MM < largest.depth < 1.1 * MM
    assert largest.box[1] > 140 * MM


def test_dust_is_neither_a_shadow_nor_sharpness() -> None:
    rng = np.random.default_rng(8)
    dusty = picture()
    for row, column in rng.integers(10, 230, (40, 2)):
        dusty[row : row + 2, column : column + 2] = 0.5
    found = remarks(picture(), dusty)
    assert [r for r in found if r.kind == "softer"] == []
    assert all(r.size[0] < 4.0 for r in found)


def test_nothing_in_common_says_nothing() -> None:
    side = Overview(name="a", light=picture().astype(np.float32), valid=np.ones((300, 240), bool))
    assert compare_overviews(side, side, lambda points: points + 5000.0, MM) == []
