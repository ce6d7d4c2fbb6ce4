"""Maps between scan and painting."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.placing.poses import Pose, resting_pose, turning


def bent_pose(*, along_x: bool) -> Pose:
    rng = np.random.default_rng(2)
    pose = resting_pose((1000, 1400), (150.0, 150.0), along_x=along_x)
    return replace(
        pose,
        shift=np.array([40.0, -7.0]),
        angle=91.3,
        scale=1.0004,
        stretch=-9e-4,
        lens=rng.normal(0, 0.05, 5),
        carriage=rng.normal(0, 0.1, pose.carriage.shape),
    )


@pytest.mark.parametrize("along_x", [False, True])
def test_inverse_brings_every_place_back(along_x: bool) -> None:
    pose = bent_pose(along_x=along_x)
    points = np.random.default_rng(3).uniform(0, 1000, (500, 2))
    back = pose.scan_from_painting(pose.painting_from_scan(points))
    np.testing.assert_allclose(back, points, atol=1e-7)


def test_resting_pose_is_plain_millimetres() -> None:
    pose = resting_pose((101, 201), (254.0, 127.0))
    there = pose.painting_from_scan(np.array([[50.0, 100.0], [60.0, 105.0]]))
    np.testing.assert_allclose(there, [[0.0, 0.0], [1.0, 1.0]], atol=1e-12)


def test_a_quarter_turn_clockwise_sends_right_to_down() -> None:
    np.testing.assert_allclose(turning(90.0) @ [1.0, 0.0], [0.0, 1.0], atol=1e-12)


def test_moved_is_the_similarity_after_the_pose() -> None:
    pose = bent_pose(along_x=False)
    points = np.random.default_rng(4).uniform(0, 1000, (20, 2))
    moved = pose.moved(33.0, 1.01, np.array([3.0, 4.0]))
    expected = 1.01 * pose.painting_from_scan(points) @ turning(33.0).T + [3.0, 4.0]
    np.testing.assert_allclose(moved.painting_from_scan(points), expected, atol=1e-9)


def test_carriage_bends_along_the_way_only() -> None:
    pose = bent_pose(along_x=False)
    pose = replace(pose, lens=np.zeros(5), angle=0.0)
    row = np.column_stack([np.arange(0.0, 1000.0, 50.0), np.full(20, 700.0)])
    there = pose.painting_from_scan(row)
    np.testing.assert_allclose(np.diff(there[:, 1]), 0.0, atol=1e-12)
    np.testing.assert_allclose(np.diff(there[:, 0], 2), 0.0, atol=1e-12)
