"""Slopes against differences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.placing.poses import resting_pose
from colormatch.placing.unknowns import Unknowns


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
    exact = np.zeros((15, 2, unknowns.count))
    unknowns.add_jacobian(exact, 0, pose, points, 1.0)
    for k in range(unknowns.count):
        step = np.zeros(unknowns.count)
        step[k] = 1e-6
        up = unknowns.stepped(0, pose, step).painting_from_scan(points)
        down = unknowns.stepped(0, pose, -step).painting_from_scan(points)
        np.testing.assert_allclose(exact[:, :, k], (up - down) / 2e-6, atol=2e-4)
