"""The joint solve, on places whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from colormatch.placing.network import Network, relative_spread, solved
from colormatch.placing.poses import Pose, resting_pose
from colormatch.placing.slopes import Observation

PX = 25.4 / 150.0


def true_poses(swing: float) -> tuple[Pose, ...]:
    """Three tiles in a row; the carriage swings by ``swing`` mm per knot."""
    rng = np.random.default_rng(6)
    poses = []
    for k in range(3):
        pose = resting_pose((800, 1100), (150.0, 150.0))
        poses.append(
            replace(
                pose,
                shift=np.array([100.0 * k, 3.0 * k]),
                angle=(0.0, 90.4, -0.7)[k],
                stretch=rng.normal(0, 4e-4) if swing else 0.0,
                carriage=rng.normal(0, swing, pose.carriage.shape),
            )
        )
    return tuple(poses)


def observed(poses: tuple[Pose, ...], error: float, wrong: float = 0.0) -> Network:
    """Places two neighbours share, found with ``error`` px; some plainly wrong."""
    rng = np.random.default_rng(7)
    found = []
    for first, second in ((0, 1), (1, 2)):
        points = rng.uniform(0, [800, 1100], (4000, 2))
        there = poses[second].scan_from_painting(poses[first].painting_from_scan(points))
        both = ((there > 0) & (there < [800, 1100])).all(axis=1)
        ours, theirs = points[both][:200], there[both][:200]
        theirs = theirs + rng.normal(0, error, theirs.shape)
        bad = rng.random(len(theirs)) < wrong
        theirs[bad] += rng.normal(0, 2.0, (bad.sum(), 2))
        information = np.tile(np.eye(2) / (error * PX) ** 2, (len(ours), 1, 1))
        found.append(
            Observation(
                first=first, second=second, ours=ours, theirs=theirs, information=information
            )
        )
    return Network(observations=tuple(found), scales=np.ones(3))


def started(poses: tuple[Pose, ...]) -> tuple[Pose, ...]:
    """Give the poses without bends, off by a little."""
    starts = [resting_pose((800, 1100), (150.0, 150.0))]
    for k, pose in enumerate(poses[1:]):
        rest = resting_pose((800, 1100), (150.0, 150.0))
        starts.append(replace(rest, shift=pose.shift + 0.3, angle=pose.angle + 0.05 * (k + 1)))
    return tuple(starts)


def gaps(network: Network, true: tuple[Pose, ...], found: tuple[Pose, ...]) -> np.ndarray:
    """Doubling in px at places that truly coincide."""
    out = []
    for o in network.observations:
        there = true[o.second].scan_from_painting(true[o.first].painting_from_scan(o.ours))
        gap = found[o.first].painting_from_scan(o.ours)
        gap = gap - found[o.second].painting_from_scan(there)
        out.append(np.hypot(gap[:, 0], gap[:, 1]) / PX)
    return np.concatenate(out)


def test_stiff_tiles_come_back_to_a_hundredth() -> None:
    true = true_poses(0.0)
    network = observed(true, 0.01)
    found = solved(network, started(true))
    assert gaps(network, true, found.poses).max() < 0.01
    assert 0.8 < found.chi_square < 1.2
    for pose, expected in zip(found.poses, true, strict=True):
        np.testing.assert_allclose(pose.shift, expected.shift, atol=0.01 * PX)
        assert np.abs(pose.carriage).max() < 0.01 * PX


def test_swinging_carriages_are_brought_together() -> None:
    true = true_poses(0.06)
    network = observed(true, 0.01)
    found = solved(network, started(true))
    assert gaps(network, true, found.poses).max() < 0.03
    assert 0.7 < found.chi_square < 1.4


def test_wrong_blocks_are_left_out() -> None:
    true = true_poses(0.03)
    network = observed(true, 0.01, wrong=0.25)
    found = solved(network, started(true))
    assert gaps(network, true, found.poses).max() < 0.03


def test_predicted_spread_is_the_spread() -> None:
    true = true_poses(0.0)
    network = observed(true, 0.02)
    found = solved(network, started(true))
    o = network.observations[0]
    there = true[1].scan_from_painting(true[0].painting_from_scan(o.ours))
    gap = found.poses[0].painting_from_scan(o.ours) - found.poses[1].painting_from_scan(there)
    spread = relative_spread(found, 0, 1, o.ours)
    assert np.abs(gap).max() < 4.0 * spread.max()
    assert spread.max() < 0.02 * PX


def test_nothing_observed_leaves_the_starts() -> None:
    starts = started(true_poses(0.0))
    found = solved(Network(observations=(), scales=np.ones(3)), starts)
    assert found.poses == starts
