"""Which tile is taken where, on canvases whose right answer is known."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.joining.evidence import measure_sharpness, softness_maps
from colormatch.joining.records import UNCOVERED, BoolArray, LabelArray
from colormatch.joining.seams import LabelMap, label_map
from colormatch.joining.shadows import judge_shadows
from colormatch.model import KeptRegion, Regions, WholeBox
from tests.joining.scenes import (
    MM,
    STEP,
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


def joined(canvas: Canvas, **more: Any) -> LabelMap:
    given = {"softness": canvas.nothing, "penalties": canvas.nothing, **more}
    return label_map(canvas.grid, canvas.tiles, xyz_from_rgb=XYZ_FROM_RGB, **given)


def taken_where_shown(canvas: Canvas, labels: LabelArray) -> None:
    """Every place a tile shows is taken from a tile that shows it, all else from none."""
    shown = np.zeros((len(canvas.tiles), *labels.shape), bool)
    for k, tile in enumerate(canvas.tiles):
        shown[k][tile.box.slices] = tile.valid
    covered = shown.any(axis=0)
    assert (labels[~covered] == UNCOVERED).all()
    rows, columns = np.nonzero(covered)
    assert shown[labels[rows, columns], rows, columns].all()


def in_disc(canvas: Canvas, x: float, y: float, radius: float) -> BoolArray:
    rows, columns = np.ogrid[: canvas.grid.height, : canvas.grid.width]
    gap = np.hypot((rows + 0.5) * STEP - y, (columns + 0.5) * STEP - x)
    return np.asarray(gap <= radius - STEP)


DISCS = ((820, 600, 150, (0.1, 0.05, 0.3)), (1010, 200, 90, (0.6, 0.3, 0.1)),
         (640, 1000, 90, (0.05, 0.3, 0.1)))  # fmt: skip


def test_painted_elements_stay_whole() -> None:
    """One disc inside the overlap, one across each of its borders."""
    rng = np.random.default_rng(1)
    light = ground(rng, 1200, 1600)
    for x, y, radius, colour in DISCS:
        light = disc(light, x, y, radius, colour)
    canvas = canvas_of(with_noise(side_by_side(light, (640, 1000)), rng, 0.02))
    result = joined(canvas)
    taken_where_shown(canvas, result.labels)
    taken = [np.unique(result.labels[in_disc(canvas, x, y, r)]) for x, y, r, _ in DISCS]
    assert [len(t) for t in taken] == [1, 1, 1]
    # Each disc across a border lies wholly in one tile only.
    assert (taken[1][0], taken[2][0]) == (1, 0)
    # The ground is larger than either tile: cut, and listed as such.
    assert [set(c.tiles) for c in result.cut] == [{"tile0.tif", "tile1.tif"}]
    assert result.cut[0].step < 1


def test_an_element_larger_than_the_overlap_is_cut_and_listed() -> None:
    rng = np.random.default_rng(2)
    light = disc(ground(rng, 800, 1600), 800, 400, 300, (0.1, 0.05, 0.3))
    canvas = canvas_of(with_noise(side_by_side(light, (700, 900)), rng, 0.02))
    result = joined(canvas)
    cuts = [c for c in result.cut if c.place == pytest.approx((800 * MM, 400 * MM), abs=6)]
    across = max(cuts, key=lambda c: c.length)
    # Never shorter than straight across; on the grid a way is ragged, and longer.
    assert 0.95 <= across.length / (600 * MM) <= 1.25


def test_a_shadow_along_an_edge_is_not_taken() -> None:
    rng = np.random.default_rng(3)
    tiles = side_by_side(textured(rng, 1000, 1600), (500, 1100))
    distance = np.maximum(np.arange(1600) - 500, 0) * MM
    tiles[1] *= (1 - 0.25 * np.exp(-distance / 2))[:, None].astype(np.float32)
    canvas = canvas_of(with_noise(tiles, rng, 0.02))
    verdict = judge_shadows(canvas.grid, canvas.tiles, canvas.nothing)
    labels = joined(canvas, penalties=verdict.penalties).labels
    taken_where_shown(canvas, labels)
    # 2 % are missing about 5 mm from the edge.
    assert (labels[:, : (500 + round(5 / MM)) // STEP] == 0).mean() > 0.999


def test_a_band_off_the_glass_is_not_taken() -> None:
    import cv2

    rng = np.random.default_rng(4)
    light = textured(rng, 1200, 1600)
    tiles = side_by_side(light, (400, 1200))
    tiles[0][:, 700:1200] = cv2.GaussianBlur(light, (0, 0), 1.5)[:, 700:1200]
    canvas = canvas_of(with_noise(tiles, rng, 0.01))
    evidence = measure_sharpness(canvas.grid, canvas.tiles, canvas.luminance)
    softness = softness_maps(canvas.grid, canvas.tiles, evidence)
    labels = joined(canvas, softness=softness).labels
    # Blocks tell the band's border to about half their side.
    assert (labels[:, (700 + 64) // STEP : 1200 // STEP] == 1).mean() > 0.99


def test_a_kept_region_wins_over_everything_else() -> None:
    rng = np.random.default_rng(5)
    light = disc(ground(rng, 800, 1600), 800, 400, 100, (0.1, 0.05, 0.3))
    canvas = canvas_of(with_noise(side_by_side(light, (600, 1000)), rng, 0.02))
    penalties = canvas.nothing
    penalties[1][:] = 1
    polygon = ((740, 250), (950, 250), (950, 420), (740, 420))
    keep = KeptRegion(
        tile="tile1.tif", polygon=tuple((x * MM, y * MM) for x, y in polygon), where="keep 1"
    )
    result = joined(canvas, penalties=penalties, regions=Regions(keep=(keep,)))
    inside = np.s_[250 // STEP + 1 : 420 // STEP - 1, 740 // STEP + 1 : 950 // STEP - 1]
    assert (result.labels[inside] == 1).all()
    assert (result.labels[: 200 // STEP, : 1000 // STEP - 2] == 0).all()


@pytest.mark.parametrize("favoured", [0, 1])
def test_no_seam_crosses_a_box_kept_whole(favoured: int) -> None:
    rng = np.random.default_rng(6)
    canvas = canvas_of(with_noise(side_by_side(textured(rng, 800, 1600), (600, 1000)), rng, 0.02))
    penalties = canvas.nothing
    penalties[1 - favoured][300 // STEP : 320 // STEP] = 1
    box = WholeBox(box=(650 * MM, 200 * MM, 300 * MM, 400 * MM), where="whole 1")
    result = joined(canvas, penalties=penalties, regions=Regions(whole=(box,)))
    inside = result.labels[200 // STEP : 600 // STEP, 650 // STEP : 950 // STEP]
    assert (inside == favoured).all()


@pytest.mark.parametrize("share", [160, 400])
def test_four_tiles_two_by_two(share: int) -> None:
    rng = np.random.default_rng(7)
    light = ground(rng, 1200, 1600)
    # A disc over the place where all four meet, in all four tiles.
    light = disc(light, 800, 600, share / 2 - 24, (0.1, 0.05, 0.3))
    canvas = canvas_of(with_noise(two_by_two(light, share), rng, 0.02))
    result = joined(canvas)
    taken_where_shown(canvas, result.labels)
    assert sum(result.shares) == pytest.approx(1)
    assert min(result.shares) > 0.15
    assert len(np.unique(result.labels[in_disc(canvas, 800, 600, share / 2 - 24)])) == 1


def test_three_tiles_in_a_row_and_one_that_lies_in_another() -> None:
    rng = np.random.default_rng(8)
    light = textured(rng, 600, 1800)
    boxes = [(0, 600, 0, 800), (0, 600, 500, 1300), (0, 600, 1100, 1800), (200, 400, 1400, 1600)]
    canvas = canvas_of(with_noise(cut(light, boxes), rng, 0.02))
    result = joined(canvas)
    taken_where_shown(canvas, result.labels)
    assert set(np.unique(result.labels)) <= {0, 1, 2, 3}
    assert (result.labels[:, : 480 // STEP] == 0).all()
    assert (result.labels[:, 820 // STEP : 1080 // STEP] == 1).all()


def test_an_inner_tile_is_taken_where_the_outer_one_is_wrong() -> None:
    rng = np.random.default_rng(9)
    light = textured(rng, 800, 1000)
    canvas = canvas_of(with_noise(cut(light, [(0, 800, 0, 1000), (200, 600, 200, 800)]), rng, 0.02))
    penalties = canvas.nothing
    penalties[0][40:60, 50:70] = 1
    labels = joined(canvas, penalties=penalties).labels
    assert (labels[40:60, 50:70] == 1).mean() > 0.97
    assert (labels[:20] == 0).all()


@pytest.mark.parametrize(
    "boxes",
    [
        [(0, 400, 0, 600)],
        [(0, 400, 0, 300), (0, 400, 300, 600)],
        [(0, 400, 0, 200), (0, 400, 400, 600)],
        [(0, 100, 0, 100), (50, 400, 60, 600)],
    ],
)
def test_single_touching_distant_and_partial_tiles_work(
    boxes: Sequence[tuple[int, int, int, int]],
) -> None:
    canvas = canvas_of(cut(textured(np.random.default_rng(10), 400, 600), boxes))
    result = joined(canvas)
    taken_where_shown(canvas, result.labels)
    assert len(result.shares) == len(boxes)


def test_no_tiles_are_refused() -> None:
    canvas = canvas_of([ground(np.random.default_rng(11), 80, 80)])
    with pytest.raises(InputError, match="need 1 to 64 scans to join"):
        label_map(canvas.grid, [], softness=[], penalties=[], xyz_from_rgb=XYZ_FROM_RGB)
