"""A whole scan against what is known of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.model import FloatArray
from demo.canvas import NODES
from demo.geometry import Placing
from demo.scanner import ScanResult, scan_tile
from demo.scene import Scene
from demo.settings import ScannerModel, StripPlace, TileSettings
from demo.spectra import observer_weights, sensor_weights
from demo.strip import PrintedStrip, true_reference

IDEAL = ScannerModel(
    glass=(90.0, 100.0),
    ppi=150,
    tone="linear",
    flare=0,
    cavity=0,
    relief=0,
    mottle=0,
    read_noise=0,
    shot_noise=0,
)
BESIDE = StripPlace(
    layout="small", placing=Placing(centre=(24.0, 16.0), at=(50.0, 80.0), turns=2, slant=1.0)
)


def scanned(
    scene: Scene,
    strip: PrintedStrip,
    scanner: ScannerModel = IDEAL,
    *,
    placing: Placing | None = None,
    seed: int = 0,
    **settings: object,
) -> ScanResult:
    placing = placing or Placing(centre=(0.0, 0.0), at=(6.0, 5.0), slant=0.7)
    tile = replace(TileSettings(placing=placing, strips=(BESIDE,), exposure=1.0), **settings)  # type: ignore[arg-type]
    rng = np.random.default_rng(seed)
    return scan_tile(scene, scanner, tile, strips={"small": strip}, rng=rng)


def with_dots(scene: Scene, dots: FloatArray, radius: float) -> Scene:
    """Make the sheet white with black dots, mm, of exact area coverage."""
    load = np.zeros(scene.paint.shape, np.float64)
    rows, columns = np.indices(scene.paint.shape)
    for x, y in dots * scene.ppi / 25.4 - 0.5:
        edge = radius * scene.ppi / 25.4 - np.hypot(columns - x, rows - y)
        load += np.clip(edge + 0.5, 0, 1)
    ramp = np.linspace(0.9, 0.02, NODES)[None, :, None] * np.ones(36)
    return replace(
        scene,
        paint=np.zeros_like(scene.paint),
        load=np.round(load * 255).astype(np.uint8),
        relief=np.zeros_like(scene.relief),
        spectra=ramp,
    )


@pytest.mark.parametrize(
    ("turns", "slant", "wobble"), [(0, 0.0, 0.0), (0, 3.3, 0.04), (1, -2.0, 0.05), (3, 9.0, 0.03)]
)
def test_a_dot_lies_where_the_map_says(
    small_scene: Scene, small_strip: PrintedStrip, turns: int, slant: float, wobble: float
) -> None:
    dots = np.array([[20.3, 15.1], [41.77, 30.2], [60.4, 25.9], [33.0, 49.6]])
    scene = with_dots(small_scene, dots, 1.2)
    scanner = replace(IDEAL, wobble=wobble, stretch=1.001, lens=0.03, lid="white")
    placing = Placing(centre=(41.0, 31.0), at=(45.3, 45.1), turns=turns, slant=slant)
    got = scanned(scene, small_strip, scanner, placing=placing, strips=())
    for expected in got.map.px_from_sheet(dots):
        left, top = np.round(expected).astype(int) - 14
        part = 0.9 - got.pixels[top : top + 29, left : left + 29, 1] / 65535
        rows, columns = np.indices(part.shape)
        found = np.array([(columns * part).sum(), (rows * part).sum()]) / part.sum() + (left, top)
        assert np.abs(found - expected).max() < 0.01


def test_truth_is_the_colour_of_the_paint(small_scene: Scene, small_strip: PrintedStrip) -> None:
    got = scanned(small_scene, small_strip)
    rows, columns = np.nonzero(got.painting)
    pick = np.random.default_rng(1).integers(len(rows), size=4000)
    at = np.stack([columns[pick], rows[pick]], axis=1)
    mm = got.map.sheet_from_px(at.astype(float))
    px = np.round(mm * small_scene.ppi / 25.4 - 0.5).astype(int)
    paint = small_scene.seen(observer_weights())[px[:, 1], px[:, 0]]
    truth = got.xyz[at[:, 1], at[:, 0]]
    # Sampling is not exact at edges of strokes: the bulk agrees, the mean too.
    assert np.median(np.abs(truth - paint)) < 0.006
    np.testing.assert_allclose(truth.mean(axis=0), paint.mean(axis=0), rtol=0.01)


def test_patches_of_the_scan_are_the_inks_of_the_strip(
    small_scene: Scene, small_strip: PrintedStrip
) -> None:
    got = scanned(small_scene, small_strip, exposure=0.9, gains=(1.0, 0.95, 0.9))
    reference = true_reference(small_strip)
    columns, rows = np.round(got.strips[0].centres).astype(int).T
    np.testing.assert_allclose(got.xyz[rows, columns], reference.xyz, atol=2e-5)
    numbers = small_strip.colour[40::80, 40::80].ravel()
    light = small_strip.spectra[numbers] @ sensor_weights("white-led", "broad").T
    read = got.pixels[rows, columns] / 65535
    np.testing.assert_allclose(read, light * 0.9 * np.array([1.0, 0.95, 0.9]), atol=3e-5)


def test_reference_noise_has_its_size(small_strip: PrintedStrip) -> None:
    from colormatch.colour.spaces import lab_from_xyz

    rng = np.random.default_rng(2)
    true = lab_from_xyz(true_reference(small_strip).xyz)
    noisy = [lab_from_xyz(true_reference(small_strip, noise=0.2, rng=rng).xyz) for _ in range(40)]
    assert (np.array(noisy) - true).std() == pytest.approx(0.2, rel=0.1)
    with pytest.raises(ValueError, match="rng must be given"):
        true_reference(small_strip, noise=0.2)


def test_painting_mask_keeps_off_border_lid_and_strip(
    small_scene: Scene, small_strip: PrintedStrip
) -> None:
    got = scanned(small_scene, small_strip)
    rows, columns = np.nonzero(got.painting)
    mm = got.map.sheet_from_px(np.stack([columns, rows], axis=1).astype(float))
    assert mm.min() > small_scene.border
    assert mm[:, 1].max() < small_scene.height - small_scene.border
    assert 0.2 < got.painting.mean() < 0.6


def test_one_seed_gives_one_scan(small_scene: Scene, small_strip: PrintedStrip) -> None:
    dirty = ScannerModel(glass=IDEAL.glass, ppi=100)
    scans = [scanned(small_scene, small_strip, dirty, seed=s, dust=5, hairs=1) for s in (3, 3, 4)]
    assert scans[0].pixels.dtype == np.uint16
    np.testing.assert_array_equal(scans[0].pixels, scans[1].pixels)
    assert (scans[0].pixels != scans[2].pixels).mean() > 0.5


def test_relief_is_lit_from_one_side_of_the_scanner(
    small_scene: Scene, small_strip: PrintedStrip
) -> None:
    middle, centre = (45.0, 35.0), (264.5, 294.5)
    at = ((centre[0] + 0.5) * 25.4 / 150, (centre[1] + 0.5) * 25.4 / 150)
    shades = []
    for turns in (0, 2):
        placing = Placing(centre=middle, at=at, turns=turns)
        flat, lit = (
            scanned(
                small_scene, small_strip, replace(IDEAL, relief=r), placing=placing, strips=()
            ).pixels[200:390, 150:380, 1]
            / 65535
            for r in (0.0, 0.3)
        )
        shade = lit / flat - 1
        shades.append(shade if turns == 0 else shade[::-1, ::-1])
    # The same spots of paint, cut symmetrically round the middle of the sheet.
    assert 0.005 < shades[0].std() < 0.2
    assert np.corrcoef(shades[0].ravel(), shades[1].ravel())[0, 1] < -0.95


def test_marks_are_reported_in_pixels(small_scene: Scene, small_strip: PrintedStrip) -> None:
    got = scanned(small_scene, small_strip)
    expected = got.strips[0].map.px_from_sheet(np.array([4.0, 4.0]))
    assert got.strips[0].marks == {"M": pytest.approx(tuple(expected))}


def test_lids_differ(small_scene: Scene, small_strip: PrintedStrip) -> None:
    corners = [
        scanned(small_scene, small_strip, replace(IDEAL, lid=lid), strips=()).xyz[-1, -1, 1]
        for lid in ("white", "black")
    ]
    assert corners[0] > 0.7
    assert corners[1] < 0.06
    with pytest.raises(ValueError, match="lid must be white or black"):
        scanned(small_scene, small_strip, replace(IDEAL, lid="open"))
