"""Slopes against differences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.placing.poses import resting_pose
from colormatch.placing.unknowns import Places, Unknowns


@pytest.mark.parametrize("along_x", [False, True])
def test_jacobian_is_the_slope_of_the_pose(along_x: bool) -> None:
    rng = np.random.default_rng(1)
    pose = resting_pose((800, 1100), (150.0, 150.0), along_x=along_x)
    pose = replace(
        pose,
        angle=31.0,
        scale=1.01,
        carriage=rng.normal(0, 0.1, pose.carriage.shape),
        lens=rng.normal(0, 0.1, 5),
    )
    points = rng.uniform(0, 800, (15, 2))
    unknowns = Unknowns((pose,))
    exact = Places.of(pose, points).slopes(pose)
    for k in range(unknowns.count):
        step = np.zeros(unknowns.count)
        step[k] = 1e-6
        up = unknowns.stepped(0, pose, step).painting_from_scan(points)
        down = unknowns.stepped(0, pose, -step).painting_from_scan(points)
        np.testing.assert_allclose(exact[:, :, k], (up - down) / 2e-6, atol=2e-4)


@pytest.mark.parametrize("along_x", [False, True])
def test_places_lie_where_the_pose_has_them(along_x: bool) -> None:
    rng = np.random.default_rng(2)
    pose = resting_pose((800, 1100), (150.0, 150.0), along_x=along_x)
    pose = replace(
        pose,
        shift=np.array([30.0, -20.0]),
        angle=-91.0,
        scale=0.99,
        stretch=1e-3,
        carriage=rng.normal(0, 0.1, pose.carriage.shape),
        lens=rng.normal(0, 0.1, 5),
    )
    points = rng.uniform(0, 800, (15, 2))
    there = Places.of(pose, points).painting(pose)
    # The pose looks its swing up in a table.
    np.testing.assert_allclose(there, pose.painting_from_scan(points), atol=3e-5)


def test_slopes_of_a_gap_are_those_of_its_two_places() -> None:
    rng = np.random.default_rng(3)
    poses = tuple(
        replace(resting_pose((800, 1100), (150.0, 150.0)), angle=angle, lens=rng.normal(0, 0.1, 5))
        for angle in (0.0, 91.0, 3.0)
    )
    unknowns = Unknowns(poses)
    places = [Places.of(pose, rng.uniform(0, 800, (15, 2))) for pose in poses]
    spans, exact = unknowns.gap_slopes((0, 2), (poses[0], poses[2]), (places[0], places[2]))
    used = np.r_[spans]
    assert not set(used) & set(np.r_[unknowns.own(1)])
    for column, slope in zip(used, np.moveaxis(exact, -1, 0), strict=True):
        step = np.zeros(unknowns.count)
        step[column] = 1e-6
        ends = []
        for sign in (1.0, -1.0):
            moved = [unknowns.stepped(k, pose, sign * step) for k, pose in enumerate(poses)]
            ends.append(places[0].painting(moved[0]) - places[2].painting(moved[2]))
        np.testing.assert_allclose(slope, (ends[0] - ends[1]) / 2e-6, atol=2e-4)
