"""The user's regions on the grid, and those that cannot be followed."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.joining.records import UNCOVERED
from colormatch.joining.regions import place_regions
from colormatch.model import KeptRegion, Regions, WholeBox
from tests.joining.scenes import MM, STEP, Canvas, canvas_of, side_by_side


@pytest.fixture
def canvas() -> Canvas:
    """Left tile to x = 1000 px (42.3 mm), right tile from 600 px (25.4 mm)."""
    light = np.full((800, 1600, 3), 0.3, np.float32)
    return canvas_of(side_by_side(light, (600, 1000)), ["left.tif", "right.tif"])


def box(
    x: float, y: float, width: float, height: float, where: str = "r.toml: whole 1"
) -> WholeBox:
    return WholeBox(box=(x, y, width, height), where=where)


def keep(tile: str, *polygon: tuple[float, float]) -> KeptRegion:
    return KeptRegion(tile=tile, polygon=polygon, where="r.toml: keep 1")


def square(x: float, y: float, side: float) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x + side, y), (x + side, y + side), (x, y + side))


def test_a_polygon_in_millimetres_lands_where_it_should(canvas: Canvas) -> None:
    regions = Regions(keep=(keep("right.tif", *square(800 * MM, 160 * MM, 160 * MM)),))
    placed = place_regions(canvas.grid, canvas.tiles, regions)
    rows, columns = np.nonzero(placed.forced == 1)
    assert (rows.min(), rows.max()) == pytest.approx((160 / STEP, 320 / STEP - 1), abs=1)
    assert (columns.min(), columns.max()) == pytest.approx((800 / STEP, 960 / STEP - 1), abs=1)
    assert (placed.forced != UNCOVERED).sum() == pytest.approx((160 / STEP) ** 2, rel=0.12)
    tile, polygon = placed.keep[0]
    assert tile == 1
    assert polygon[0] == pytest.approx([799.5, 159.5])
    assert placed.remarks == ()


def test_a_polygon_shown_in_part_is_followed_there_and_told(canvas: Canvas) -> None:
    regions = Regions(keep=(keep("left.tif", *square(900 * MM, 200 * MM, 200 * MM)),))
    placed = place_regions(canvas.grid, canvas.tiles, regions)
    assert np.nonzero(placed.forced == 0)[1].max() == 1000 / STEP - 1
    assert placed.remarks[0].kind == "region"
    assert "keep 1: left.tif shows only 5" in placed.remarks[0].text


def test_boxes_that_meet_are_one_group(canvas: Canvas) -> None:
    regions = Regions(whole=(box(28, 5, 5, 5), box(31, 8, 5, 5), box(28, 20, 3, 3)))
    placed = place_regions(canvas.grid, canvas.tiles, regions)
    assert [group for group, _ in placed.whole] == [1, 1, 2]
    assert placed.may[1:].all()


def test_a_box_belongs_to_the_tiles_that_show_it_whole(canvas: Canvas) -> None:
    placed = place_regions(canvas.grid, canvas.tiles, Regions(whole=(box(20, 5, 10, 5),)))
    assert placed.may[1].tolist() == [True, False]


@pytest.mark.parametrize(
    ("regions", "message"),
    [
        (Regions(keep=(keep("x.tif", *square(1, 1, 1)),)), "no scan is called 'x.tif'"),
        (
            Regions(keep=(keep("left.tif", *square(60, 1, 5)),)),
            "keep 1: left.tif does not show this place",
        ),
        (
            Regions(keep=(keep("left.tif", *square(600, 1, 5)),)),
            "keep 1: the polygon lies outside the picture",
        ),
        (Regions(whole=(box(-50, 1, 5, 5),)), "whole 1: the box lies outside the picture"),
        (
            Regions(whole=(box(20, 1, 30, 5),)),
            r"whole 1: no scan shows the box whole; \w+.tif shows most of it \(8\d%\)",
        ),
        (
            Regions(whole=(box(20, 5, 10, 5),), keep=(keep("right.tif", *square(27, 6, 2)),)),
            r"whole 1: no seam may cross this box, but \[\[keep\]\] regions ask for right.tif",
        ),
    ],
)
def test_what_cannot_be_followed_is_refused(canvas: Canvas, regions: Regions, message: str) -> None:
    with pytest.raises(InputError, match=message):
        place_regions(canvas.grid, canvas.tiles, regions)
