"""Curves between labels: they go where labels change, and have room not to cross."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree

from colormatch.joining.curves import BAND, MARGIN, Curve, curves_of
from colormatch.joining.records import UNCOVERED

STEP = 8


def halves(height: int, width: int, column: int) -> np.ndarray:
    labels = np.zeros((height, width), np.uint8)
    labels[:, column:] = 1
    return labels


def test_a_straight_border_is_one_straight_curve_beyond_the_canvas_on_both_sides() -> None:
    (curve,) = curves_of(halves(60, 80, 30), STEP)
    assert curve.points[:, 0] == pytest.approx(30 * STEP - 0.5)
    low, high = sorted(curve.points[[0, -1], 1])
    assert (low, high) == (-MARGIN * STEP - 0.5, (60 + MARGIN) * STEP - 0.5)
    # Whatever its direction, the normal points to the plus tile.
    assert (np.sign(curve.normals[:, 0]) == (1 if curve.plus == 1 else -1)).all()
    inside = (curve.points[:, 1] >= 0) & (curve.points[:, 1] < 60 * STEP)
    assert curve.room[inside] == pytest.approx(BAND * 0.8)
    assert (curve.room[[0, -1]] == 0).all()


def test_an_island_is_a_closed_curve_about_its_own_circle() -> None:
    rows, columns = np.ogrid[:100, :100]
    labels = (np.hypot(rows - 49.5, columns - 49.5) < 30).astype(np.uint8)
    (curve,) = curves_of(labels, STEP)
    assert (curve.points[0] == curve.points[-1]).all()
    middle = 50 * STEP - 0.5
    radius = np.hypot(*(curve.points - middle).T)
    assert radius.mean() == pytest.approx(30 * STEP, abs=4)
    # The staircase of the grid has steps of 8 px; smoothed they are under 4.
    assert np.abs(radius - radius.mean()).max() < 4
    outwards = ((curve.points - middle) * curve.normals).sum(axis=1) > 0
    assert outwards.all() == (curve.plus == 0)
    assert outwards.all() or not outwards.any()


def test_three_tiles_meet_in_a_fixed_place() -> None:
    labels = halves(60, 80, 40)
    labels[30:] = 2
    curves = curves_of(labels, STEP)
    assert sorted({c.plus, c.minus} for c in curves) == sorted([{0, 1}, {0, 2}, {1, 2}])
    for curve in curves:
        ends = [tuple(curve.points[k]) for k in (0, -1)]
        assert (40 * STEP - 0.5, 30 * STEP - 0.5) in ends


def test_borders_with_nothing_are_left_as_they_are() -> None:
    labels = halves(60, 80, 40)
    labels[:, 60:] = UNCOVERED
    curves = curves_of(labels, STEP)
    rims = [c for c in curves if not c.is_seam]
    assert len(rims) == 1
    assert (rims[0].room == 0).all()
    assert (np.unique(rims[0].points[:, 0]) == 60 * STEP - 0.5).all()


def test_one_tile_has_no_curves() -> None:
    assert curves_of(np.zeros((20, 30), np.uint8), STEP) == []


def blobs(seed: int) -> np.ndarray:
    import cv2

    rng = np.random.default_rng(seed)
    fields = [cv2.GaussianBlur(rng.standard_normal((120, 150)), (0, 0), 7) for _ in range(3)]
    return np.asarray(np.argmax(np.array(fields), axis=0).astype(np.uint8))


def far_out(curve: Curve, side: int) -> np.ndarray:
    sign = (-1, 1)[side]
    return np.asarray(curve.points + sign * curve.room[:, side, None] * curve.normals)


@pytest.mark.parametrize("seed", range(4))
def test_curves_moved_within_their_room_keep_their_order(seed: int) -> None:
    curves = curves_of(blobs(seed), STEP)
    everything = np.concatenate([c.points for c in curves])
    owner = np.repeat(np.arange(len(curves)), [len(c.points) for c in curves])
    tree = cKDTree(everything)
    crossed = 0
    total = 0
    for number, curve in enumerate(curves):
        if len(curve.points) < 40:
            continue
        for side in (0, 1):
            moved = far_out(curve, side)
            near, which = tree.query(moved)
            room = curve.room[:, side]
            # No other curve is nearer than the one it came from.
            crossed += int(((owner[which] != number) & (near < 0.8 * room)).sum())
            total += len(moved)
    assert crossed < 0.01 * total


@pytest.mark.parametrize("seed", range(4))
def test_curves_stay_within_half_a_grid_pixel_of_their_staircase_and_keep_their_ends(
    seed: int,
) -> None:
    rng = np.random.default_rng(seed)
    labels = rng.integers(0, 3, (20, 30)).astype(np.uint8).repeat(2, axis=0)
    for curve in curves_of(labels, STEP):
        if len(curve.corners) < 2 or (curve.corners[0] == curve.corners[-1]).all():
            continue
        assert curve.points[[0, -1]] == pytest.approx(curve.corners[[0, -1]])
        sides = np.linspace(curve.corners[:-1], curve.corners[1:], 9).reshape(-1, 2)
        gap, _ = cKDTree(sides).query(curve.points, p=np.inf)
        assert np.max(gap) <= 0.5 * STEP + 1
