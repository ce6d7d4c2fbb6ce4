"""Maps between scan and canvas."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.placing.poses import resting_pose, turning
from colormatch.placing.records import Placement


@pytest.fixture
def placement() -> Placement:
    rng = np.random.default_rng(1)
    pose = resting_pose((900, 1200), (300.0, 300.0))
    pose = replace(pose, angle=90.7, stretch=1e-3, carriage=rng.normal(0, 0.04, (8, 2)))
    assert pose.carriage.shape == (pose.knots.count, 2)
    scale = 300.0 / 25.4
    return Placement(
        names=("a",),
        poses=(pose,),
        ppi=300.0,
        width=1300,
        height=1000,
        canvas_from_mm=np.array([[scale, 0.0, 650.0], [0.0, scale, 500.0]]),
        pairs=(),
        rms=0.0,
        largest=0.0,
        chi_square=1.0,
        doubts=(),
    )


def test_there_and_back(placement: Placement) -> None:
    points = np.random.default_rng(2).uniform(0, 900, (4, 5, 2))
    there = placement.canvas_from_scan(0, points)
    assert there.shape == points.shape
    np.testing.assert_allclose(placement.scan_from_canvas(0, there), points, atol=1e-6)


@pytest.mark.parametrize("size", [(1, 1), (5, 40), (100, 333)])
def test_map_of_a_window_is_the_exact_one(placement: Placement, size: tuple[int, int]) -> None:
    columns, rows = 310.0 + np.arange(size[1]), 200.0 + np.arange(size[0])
    x, y = placement.scan_map(0, columns, rows)
    grid = np.stack(np.meshgrid(columns, rows), axis=-1)
    exact = placement.scan_from_canvas(0, grid.astype(float))
    assert x.dtype == np.float32
    assert x.shape == size
    np.testing.assert_allclose(np.stack([x, y], axis=-1), exact, atol=0.005)


def test_a_new_canvas_turns_and_cuts(placement: Placement) -> None:
    moved = placement.with_canvas(10.0, (99.5, 49.5, 399.5, 249.5))
    assert (moved.width, moved.height) == (300, 200)
    points = np.array([[5.0, 6.0], [700.0, 900.0]])
    expected = placement.canvas_from_scan(0, points) @ turning(10.0).T - [100.0, 50.0]
    np.testing.assert_allclose(moved.canvas_from_scan(0, points), expected, atol=1e-9)


def test_outline_is_the_scan_s_border(placement: Placement) -> None:
    corners = placement.scan_from_canvas(0, placement.outline(0))
    np.testing.assert_allclose(
        corners, [[-0.5, -0.5], [899.5, -0.5], [899.5, 1199.5], [-0.5, 1199.5]], atol=1e-6
    )
