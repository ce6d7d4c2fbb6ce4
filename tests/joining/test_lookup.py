"""Labels of windows when seams were moved where they should not have been."""

from __future__ import annotations

import numpy as np

from colormatch.joining.curves import curves_of
from colormatch.joining.lookup import make_lookup, on_grid
from colormatch.joining.records import UNCOVERED
from colormatch.joining.seams import label_map
from colormatch.model import Window
from tests.joining.scenes import STEP, XYZ_FROM_RGB, canvas_of, ground, side_by_side


def test_a_seam_moved_out_of_a_tile_gives_nothing_to_it_there() -> None:
    canvas = canvas_of(side_by_side(ground(np.random.default_rng(1), 400, 800), (380, 440)))
    decided = label_map(
        canvas.grid,
        canvas.tiles,
        softness=canvas.nothing,
        penalties=canvas.nothing,
        xyz_from_rgb=XYZ_FROM_RGB,
    )
    curves = curves_of(decided.labels, STEP)
    (seam,) = [c for c in curves if c.is_seam]
    aside = np.array([32.0, 0.0])
    moved = [c.points + aside if c is seam else c.points for c in curves]
    lookup = make_lookup(canvas.grid, canvas.tiles, decided, curves, moved)
    labels = lookup.labels(Window(row=0, column=0, height=400, width=800))
    assert not (labels == UNCOVERED).any()
    for k, light in enumerate(canvas.full):
        assert np.isfinite(light[labels == k]).all()
    # Where both are shown the moved seam is followed.
    expected = np.round(moved[curves.index(seam)][:, 0].mean())
    follow = min(int(expected), 440)
    assert abs(int(np.argmax(labels[200] == 1)) - follow) <= STEP


def test_an_array_of_the_grid_is_enlarged_to_a_window() -> None:
    canvas = canvas_of([np.full((37, 61, 3), 0.3, np.float32)])
    values = np.random.default_rng(2).random((canvas.grid.height, canvas.grid.width)) < 0.5
    whole = values.repeat(STEP, axis=0).repeat(STEP, axis=1)
    window = Window(row=5, column=11, height=30, width=44)
    assert (on_grid(canvas.grid, values, window) == whole[5:35, 11:55]).all()
