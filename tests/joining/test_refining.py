"""Seams at full resolution: consistent, on the right side, with true figures."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from colormatch.joining.records import UNCOVERED, LabelArray
from colormatch.joining.refining import Seams, refine
from colormatch.joining.seams import label_map
from colormatch.model import KeptRegion, Regions, WholeBox, Window
from tests.joining.scenes import (
    MM,
    XYZ_FROM_RGB,
    Canvas,
    canvas_of,
    cut,
    disc,
    ground,
    side_by_side,
    textured,
    two_by_two,
    with_noise,
)


def joined(canvas: Canvas, **more: Any) -> Seams:
    given = {"softness": canvas.nothing, "penalties": canvas.nothing, **more}
    decided = label_map(canvas.grid, canvas.tiles, xyz_from_rgb=XYZ_FROM_RGB, **given)
    return refine(canvas.grid, canvas.tiles, decided, canvas.read, xyz_from_rgb=XYZ_FROM_RGB)


def whole(canvas: Canvas) -> Window:
    return Window(row=0, column=0, height=canvas.grid.canvas_height, width=canvas.grid.canvas_width)


def all_labels(canvas: Canvas, seams: Seams) -> LabelArray:
    """Labels of the whole canvas, checked to be the same in windows and to be shown."""
    labels = seams.labels(whole(canvas))
    rng = np.random.default_rng(0)
    for _ in range(10):
        row, column = rng.integers(0, labels.shape[0] - 30), rng.integers(0, labels.shape[1] - 50)
        window = Window(row=int(row), column=int(column), height=30, width=50)
        assert (seams.labels(window) == labels[row : row + 30, column : column + 50]).all()
    for k, light in enumerate(canvas.full):
        assert np.isfinite(light[labels == k]).all()
    shown = np.isfinite(np.stack([light[..., 0] for light in canvas.full])).any(axis=0)
    assert (labels[~shown] == UNCOVERED).all()
    return labels


def test_a_disc_stays_whole_to_the_pixel() -> None:
    rng = np.random.default_rng(1)
    light = disc(ground(rng, 1000, 1500), 800, 500, 120, (0.1, 0.05, 0.3))
    canvas = canvas_of(with_noise(side_by_side(light, (640, 1000)), rng, 0.01))
    seams = joined(canvas)
    labels = all_labels(canvas, seams)
    rows, columns = np.ogrid[:1000, :1500]
    distance = np.hypot(rows - 500, columns - 800)
    inside = labels[distance <= 118]
    assert np.bincount(inside).max() / len(inside) > 0.995
    inner = labels[distance <= 112]
    assert np.ptp(inner) == 0


def test_figures_are_those_of_a_step_put_in() -> None:
    rng = np.random.default_rng(2)
    light = ground(rng, 800, 1200, grain=0.005)
    tiles = side_by_side(light, (400, 800))
    tiles[1] *= 1.05
    canvas = canvas_of(with_noise(tiles, rng, 0.01))
    seams = joined(canvas)
    (seam,) = seams.seams
    mean = light.mean(axis=(0, 1)) @ XYZ_FROM_RGB.T
    truth = float(delta_e_2000(lab_from_xyz(mean), lab_from_xyz(1.05 * mean)))
    assert seam.tiles == ("tile0.tif", "tile1.tif")
    assert seam.mean == pytest.approx(truth, rel=0.03)
    assert truth < seam.p95 < 1.25 * truth
    assert seam.length == pytest.approx(800 * MM, rel=0.05)
    assert truth > 1.05
    assert seam.blended == 0


def test_tiles_that_agree_may_be_blended_beside_the_seam_only() -> None:
    rng = np.random.default_rng(3)
    canvas = canvas_of(with_noise(side_by_side(ground(rng, 800, 1200), (400, 800)), rng, 0.01))
    seams = joined(canvas)
    labels = all_labels(canvas, seams)
    assert seams.seams[0].blended > 0.98
    assert seams.seams[0].mean < 0.3
    blend = seams.blendable(whole(canvas))
    crossing = np.argmax(labels == 1, axis=1)
    for row in range(10, 790, 60):
        places = np.flatnonzero(blend[row])
        assert places.min() <= crossing[row] - 16
        assert places.max() >= crossing[row] + 16
        assert len(places) <= 100


def test_places_that_differ_or_are_displaced_are_cut_hard() -> None:
    rng = np.random.default_rng(4)
    tiles = side_by_side(ground(rng, 800, 1200), (400, 800))
    tiles[1][300:500] *= 1.1
    canvas = canvas_of(with_noise(tiles, rng, 0.01))
    slip = np.zeros((canvas.grid.height, canvas.grid.width))
    slip[600 // 8 :] = 0.5
    seams = joined(canvas, slips={(0, 1): slip})
    blend = seams.blendable(whole(canvas))
    assert not blend[310:490].any()
    assert not blend[610:].any()
    assert blend[40:270].any(axis=1).all()


def test_a_stroke_beside_the_seam_is_not_cut_through() -> None:
    """A bar the grid can hardly see, 12 px wide: the seam goes beside it, not along in it."""
    rng = np.random.default_rng(5)
    light = ground(rng, 800, 1200, grain=0.005)
    light[200:600, 596:608] = (0.05, 0.05, 0.2)
    canvas = canvas_of(with_noise(side_by_side(light, (400, 800)), rng, 0.01))
    labels = all_labels(canvas, joined(canvas))
    bar = labels[202:598, 597:607]
    assert np.bincount(bar.ravel(), minlength=2).min() / bar.size < 0.01


def test_a_region_is_followed_to_the_pixel() -> None:
    rng = np.random.default_rng(6)
    canvas = canvas_of(with_noise(side_by_side(textured(rng, 800, 1600), (600, 1000)), rng, 0.01))
    corners = ((905.0, 200.0), (975.0, 333.0), (700.0, 444.0))
    keep = KeptRegion(
        tile="tile0.tif",
        polygon=tuple(((x + 0.5) * MM, (y + 0.5) * MM) for x, y in corners),
        where="keep 1",
    )
    box = WholeBox(box=(650 * MM, 500 * MM, 300 * MM, 200 * MM), where="whole 1")
    labels = all_labels(canvas, joined(canvas, regions=Regions(keep=(keep,), whole=(box,))))
    rows, columns = np.mgrid[:800, :1600]
    sides = []
    for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1], strict=True):
        sides.append((x1 - x0) * (rows - y0) - (y1 - y0) * (columns - x0))
    inside = (np.array(sides) > 0).all(axis=0) | (np.array(sides) < 0).all(axis=0)
    assert inside.sum() > 10_000
    assert (labels[inside] == 0).all()
    assert np.ptp(labels[500:700, 650:950]) == 0


def test_tilted_tiles_are_taken_only_where_they_are() -> None:
    rng = np.random.default_rng(7)
    light = textured(rng, 900, 1300)
    rows, columns = np.mgrid[:900, :1300]
    tiles = [light.copy(), light.copy()]
    tiles[0][columns > 800 + 0.1 * rows] = np.nan
    tiles[0][rows < 20 + 0.02 * columns] = np.nan
    tiles[1][columns < 500 - 0.08 * rows] = np.nan
    tiles[1][rows > 880 - 0.03 * columns] = np.nan
    canvas = canvas_of(with_noise(tiles, rng, 0.01))
    all_labels(canvas, joined(canvas))


@pytest.mark.parametrize("share", [100, 300])
def test_four_tiles_and_an_inner_one(share: int) -> None:
    rng = np.random.default_rng(8)
    light = textured(rng, 900, 1100)
    tiles = two_by_two(light, share) + cut(light, [(300, 600, 350, 700)])
    canvas = canvas_of(with_noise(tiles, rng, 0.01))
    penalties = canvas.nothing
    for k in range(4):
        at = np.s_[320 // 8 - canvas.tiles[k].row :, 400 // 8 - canvas.tiles[k].column :]
        if min(at[0].start, at[1].start) >= 0:
            penalties[k][at][:20, :20] = 1
    seams = joined(canvas, penalties=penalties)
    labels = all_labels(canvas, seams)
    assert 4 in labels
    lengths = {s.tiles: s.length for s in seams.seams}
    assert min(lengths.values()) > 0
    assert max(s.mean for s in seams.seams) < 0.3
    assert max(s.p95 for s in seams.seams) < 1.0


@pytest.mark.parametrize("seed", range(8))
def test_any_tiles_at_any_slant_give_labels_that_hold(seed: int) -> None:
    """Random rectangles, some in others, some apart; odd sizes; some differ in level."""
    rng = np.random.default_rng(100 + seed)
    height, width = rng.integers(200, 500, 2)
    light = textured(rng, height, width)
    rows, columns = np.mgrid[:height, :width]
    tiles = []
    for _ in range(rng.integers(2, 6)):
        x, y = rng.uniform(0, width), rng.uniform(0, height)
        angle = rng.uniform(-0.1, 0.1)
        u = (columns - x) * np.cos(angle) + (rows - y) * np.sin(angle)
        v = (rows - y) * np.cos(angle) - (columns - x) * np.sin(angle)
        inside = np.abs(u) < rng.uniform(0.2, 0.7) * width
        inside &= np.abs(v) < rng.uniform(0.2, 0.7) * height
        tiles.append(np.where(inside[..., None], light * rng.choice([1.0, 1.08]), np.nan))
    canvas = canvas_of([tile.astype(np.float32) for tile in tiles])
    seams = joined(canvas)
    labels = seams.labels(whole(canvas))
    shown = np.zeros((canvas.grid.height, canvas.grid.width), bool)
    for k, tile in enumerate(canvas.tiles):
        shown[tile.box.slices] |= tile.valid
        assert np.isfinite(canvas.full[k][labels == k]).all()
    # Every grid pixel that a tile shows is taken from one to the last canvas pixel.
    assert ((labels == UNCOVERED) == ~shown.repeat(8, 0).repeat(8, 1)[:height, :width]).all()


def test_one_tile_has_no_seams() -> None:
    canvas = canvas_of([ground(np.random.default_rng(9), 333, 417)])
    seams = joined(canvas)
    assert seams.seams == ()
    assert (all_labels(canvas, seams) == 0).all()
    assert not seams.blendable(whole(canvas)).any()
