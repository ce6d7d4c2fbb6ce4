"""Straightened strips: light comes from where the geometry says."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.joining.curves import curves_of
from colormatch.joining.records import Grid
from colormatch.joining.strips import OFFSETS, read_strip
from colormatch.model import FloatArray, Window
from tests.joining.scenes import MM, STEP


def read(tile: int, window: Window) -> FloatArray:
    """Give a ramp in both directions; tile 1 is not there left of column 400."""
    assert window.row >= 0
    assert window.column >= 0
    assert window.row + window.height <= 640
    assert window.column + window.width <= 801
    rows = np.arange(window.height)[:, None] + window.row
    columns = np.arange(window.width) + window.column
    light = np.stack(np.broadcast_arrays(rows, columns, 10.0 + tile), axis=-1).astype(np.float32)
    if tile == 1:
        light[:, columns < 400] = np.nan
    return light


def test_places_and_tiles_are_right_and_windows_stay_on_the_canvas() -> None:
    grid = Grid(canvas_height=640, canvas_width=801, step=STEP, mm_from_canvas=np.eye(2, 3) * MM)
    labels = np.zeros((grid.height, grid.width), np.uint8)
    rows, columns = np.ogrid[: grid.height, : grid.width]
    labels[columns > 53 + rows / 4] = 1
    (curve,) = curves_of(labels, STEP)
    strip = read_strip(grid, curve, read)
    places = curve.points[:, None] + OFFSETS[:, None] * curve.normals[:, None]
    for side, tile in enumerate((curve.plus, curve.minus)):
        light = strip.light[side]
        known = np.asarray(np.isfinite(light).all(axis=2))
        assert light[known][:, 2] == pytest.approx(10.0 + tile)
        # OpenCV tells places 1/32 px apart.
        assert np.abs(light[..., 0] - places[..., 1])[known].max() < 1 / 32
        assert np.abs(light[..., 1] - places[..., 0])[known].max() < 1 / 32
        expected = np.asarray(strip.inside) & ((tile == 0) | (places[..., 0] >= 401))
        assert known[expected].all()
        assert not known[~strip.inside].any()
    x, y = places[..., 0], places[..., 1]
    assert (strip.inside == ((x >= 0) & (x <= 800) & (y >= 0) & (y <= 639))).all()
