"""Tiles placed by the order the user states."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.errors import PlacingError
from colormatch.placing.ordering import Order
from colormatch.placing.place import place
from tests.placing.scenes import Painting, TrueScan, from_light, random_field, tile_of


@pytest.fixture(scope="module")
def plain_middle() -> Painting:
    """Detail at the left and right, nothing between."""
    rng = np.random.default_rng(21)
    detail = random_field(rng, (700, 1300), 1.0, 1.5)
    x = np.arange(1300.0)
    calm = 1.0 / (1.0 + np.exp((np.abs(x - 600.0) - 260.0) / 10.0))
    light = 0.5 + 0.1 * np.clip(detail, -3, 3) * (1.0 - calm)
    return from_light(light.astype(np.float32), 150.0)


def scans() -> tuple[TrueScan, TrueScan]:
    common = {"width": 500, "height": 600, "noise": 0.003}
    return (
        TrueScan(middle=(400.0, 350.0), name="left.tif", **common),  # type: ignore[arg-type]
        TrueScan(middle=(800.0, 350.0), name="right.tif", **common),  # type: ignore[arg-type]
    )


def test_a_plain_overlap_is_named(plain_middle: Painting) -> None:
    rng = np.random.default_rng(1)
    tiles = tuple(scan.tile(plain_middle, rng) for scan in scans())
    with pytest.raises(PlacingError, match=r"right\.tif cannot be placed beside left\.tif.*plain"):
        place(tiles)


def test_the_order_places_it_with_a_doubt(plain_middle: Painting) -> None:
    rng = np.random.default_rng(1)
    tiles = tuple(scan.tile(plain_middle, rng) for scan in scans())
    found = place(tiles, order=Order(columns=2, rows=1))
    assert [doubt.kind for doubt in found.doubts] == ["hint"]
    assert found.doubts[0].tiles == ("right.tif", "left.tif")
    step = found.outline(1)[0] - found.outline(0)[0]
    # The usual step, 0.8 of a tile, for want of anything else.
    np.testing.assert_allclose(step, [400.0, 0.0], atol=2.0)


def test_the_strip_tells_which_way_up(plain_middle: Painting) -> None:
    rng = np.random.default_rng(1)
    left, right = (scan.scanned(plain_middle, rng) for scan in scans())
    tiles = (
        tile_of(left, name="left.tif", ppi=150.0),
        tile_of(
            np.ascontiguousarray(right[::-1, ::-1]),
            name="right.tif",
            ppi=150.0,
            strip=np.array([10.0, 300.0]),
        ),
    )
    found = place(tiles, order=Order(columns=2, rows=1))
    # The strip lies at this scan's left, which must be the painting's right.
    assert abs(found.poses[1].angle) == pytest.approx(180.0)


def test_an_order_that_does_not_hold_the_tiles_is_refused(plain_middle: Painting) -> None:
    rng = np.random.default_rng(1)
    tiles = tuple(scan.tile(plain_middle, rng) for scan in scans())
    with pytest.raises(PlacingError, match="3x1 holds 3 tiles, but 2"):
        place(tiles, order=Order(columns=3, rows=1))


@pytest.fixture(scope="module")
def half_plain() -> Painting:
    """Detail only in the upper half."""
    rng = np.random.default_rng(22)
    detail = random_field(rng, (1300, 1100), 1.0, 1.5)
    y = np.arange(1300.0)[:, None]
    calm = 1.0 / (1.0 + np.exp((500.0 - y) / 10.0))
    light = 0.5 + 0.1 * np.clip(detail, -3, 3) * (1.0 - calm)
    return from_light(light.astype(np.float32), 150.0)


def test_spacing_is_learnt_from_tiles_that_were_placed(half_plain: Painting) -> None:
    rng = np.random.default_rng(1)
    places = [(350.0, 350.0), (700.0, 350.0), (350.0, 850.0), (700.0, 850.0)]
    names = ["a", "b", "c", "d"]
    tiles = tuple(
        TrueScan(width=500, height=600, middle=m, name=n, noise=0.003).tile(half_plain, rng)
        for m, n in zip(places, names, strict=True)
    )
    found = place(tiles, order=Order(columns=2, rows=2))
    assert {doubt.tiles[0] for doubt in found.doubts if doubt.kind == "hint"} == {"c", "d"}
    step = found.outline(3)[0] - found.outline(2)[0]
    np.testing.assert_allclose(step, [350.0, 0.0], atol=2.0)
