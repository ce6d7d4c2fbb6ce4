"""The whole stage against the truth. Limits are the project's aims, in pixels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.placing.place import _settled, place
from colormatch.placing.poses import resting_pose
from colormatch.placing.records import Placement
from colormatch.placing.tiles import Tile
from tests.placing.measures import departure, doubling, rms
from tests.placing.scenes import Painting, TrueScan, tile_of, wobble


def placed(scene: Painting, scans: tuple[TrueScan, ...]) -> Placement:
    rng = np.random.default_rng(9)
    return place(tuple(scan.tile(scene, rng) for scan in scans))


def test_two_tiles(
    scene: Painting, beside: tuple[TrueScan, TrueScan], beside_tiles: tuple[Tile, Tile]
) -> None:
    found = place(beside_tiles)
    assert rms(doubling(beside, found, scene.ppi)) < 0.02
    assert rms(departure(beside, found, scene.ppi)) < 0.06
    assert found.doubts == ()


@pytest.mark.parametrize(("one", "two"), [(90.0, 270.0), (0.0, 180.0), (270.0, 0.0)])
def test_two_tiles_turned(scene: Painting, one: float, two: float) -> None:
    scans = (
        TrueScan(width=700, height=900, middle=(560.0, 520.0), angle=one + 0.5, noise=0.003),
        TrueScan(
            width=700,
            height=900,
            middle=(901.3, 771.8),
            angle=two - 0.7,
            noise=0.003,
            gain=0.85,
            fall_off=0.1,
            power=1.9,
        ),
    )
    found = placed(scene, scans)
    assert rms(doubling(scans, found, scene.ppi)) < 0.02
    assert rms(departure(scans, found, scene.ppi)) < 0.06


def test_two_by_two_with_swinging_carriages(scene: Painting) -> None:
    rng = np.random.default_rng(14)
    scans = tuple(
        TrueScan(
            width=700,
            height=640,
            middle=(430.0 + 520.0 * x, 390.0 + 460.0 * y),
            angle=rng.uniform(-0.5, 0.5),
            stretch=4e-4 * (-1) ** (x + y),
            wobble=wobble(rng, 1600.0, 0.45),
            lens=0.15,
            gain=rng.uniform(0.85, 1.0),
            fall_off=0.1,
            noise=0.003,
            name=f"{x}{y}",
        )
        for y in (0, 1)
        for x in (0, 1)
    )
    found = placed(scene, scans)
    gaps = doubling(scans, found, scene.ppi)
    assert rms(gaps) < 0.1
    assert gaps.max() < 0.5
    assert len(found.pairs) == 6
    # What it says of itself is of the size of the truth.
    assert 0.3 * rms(gaps) < found.rms < 3.0 * rms(gaps)


def test_tiles_of_different_ppi(scene: Painting, beside: tuple[TrueScan, TrueScan]) -> None:
    fine = replace(beside[1], ppi=200.0, width=933, height=1200)
    scans = (beside[0], fine)
    found = placed(scene, scans)
    assert found.ppi == 200.0
    assert rms(doubling(scans, found, scene.ppi)) < 0.05


def test_a_wrong_ppi_is_noticed(scene: Painting, beside: tuple[TrueScan, TrueScan]) -> None:
    rng = np.random.default_rng(9)
    tiles = (
        beside[0].tile(scene, rng),
        replace(beside[1].tile(scene, rng), ppi=(151.5, 151.5)),
    )
    found = place(tiles)
    assert [doubt.kind for doubt in found.doubts] == ["scale"]
    assert rms(doubling(beside, found, scene.ppi)) < 0.05


def test_cut_at_whole_pixels_needs_no_resampling(scene: Painting) -> None:
    whole = TrueScan(width=1200, height=1000, middle=(700.0, 620.0))
    pixels = whole.scanned(scene, np.random.default_rng(1))
    cuts = [(0, 0), (500, 7), (3, 420)]
    tiles = tuple(
        tile_of(pixels[y : y + 560, x : x + 690], name=f"{x}-{y}", ppi=150.0) for x, y in cuts
    )
    found = place(tiles)
    corners = np.array([found.canvas_from_scan(k, np.zeros((1, 2)))[0] for k in range(3)])
    np.testing.assert_allclose(corners - corners[0], np.array(cuts) - cuts[0], atol=1e-9)
    np.testing.assert_allclose(corners, np.round(corners), atol=1e-9)
    assert (found.width, found.height) == (1190, 980)
    far = found.canvas_from_scan(1, np.array([[689.0, 559.0]]))[0]
    np.testing.assert_allclose(far - corners[1], [689.0, 559.0], atol=1e-9)


def test_a_strip_under_the_mask_takes_no_part(
    scene: Painting, beside: tuple[TrueScan, TrueScan]
) -> None:
    rng = np.random.default_rng(9)
    strip = rng.integers(0, 65536, (60, 40, 3)).astype(np.uint16)
    strip = np.repeat(np.repeat(strip, 10, axis=0), 3, axis=1)
    tiles = []
    for scan, left in zip(beside, (24, 560), strict=True):
        pixels = scan.scanned(scene, rng)
        pixels[100:700, left : left + 120] = strip
        mask = np.ones((900 // 8, 700 // 8), dtype=bool)
        mask[11:89, left // 8 - 1 : left // 8 + 17] = False
        tiles.append(tile_of(pixels, name=scan.name, ppi=150.0, mask=mask))
    found = place(tuple(tiles))
    gaps = doubling(beside, found, scene.ppi)
    assert rms(gaps) < 0.02


def test_a_shadow_in_one_tile_does_not_drag(
    scene: Painting, beside: tuple[TrueScan, TrueScan]
) -> None:
    rng = np.random.default_rng(9)
    first, second = (scan.scanned(scene, rng) for scan in beside)
    # 22 % darker towards the second tile's own left edge, within 40 px.
    shade = 1.0 - 0.22 * np.exp(-np.arange(700.0) / 20.0)
    dark = second * (shade ** (1 / 1.9))[None, :, None]
    tiles = (
        tile_of(first, name="a", ppi=150.0),
        tile_of(np.round(dark).astype(np.uint16), name="b", ppi=150.0),
    )
    found = place(tiles)
    assert rms(doubling(beside, found, scene.ppi)) < 0.03
    assert rms(departure(beside, found, scene.ppi)) < 0.06


def test_a_tile_settled_on_whole_pixels_keeps_the_knots_it_was_solved_with() -> None:
    fine = resting_pose((900, 700), (300.0, 300.0), spacing=12.5)
    kept = _settled((fine, fine), held=0)
    assert [pose.knots.count for pose in kept] == [fine.knots.count] * 2
    assert not kept[1].carriage.any()
