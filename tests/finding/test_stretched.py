"""Poses in a stretched picture, against points laid down by hand."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.files.layouts import shipped_layouts
from colormatch.finding.poses import applied, likely_poses, mark_points
from colormatch.finding.search import Places
from colormatch.finding.stretched import ASPECTS, stretched_poses

LAYOUT = shipped_layouts()["strip-short"]
SCALE = 3.0


def _places(aspect: float, degrees: float) -> Places:
    turn = np.deg2rad(degrees)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    points = SCALE * mark_points(LAYOUT) @ rotation.T * np.sqrt([aspect, 1 / aspect]) + (40, 60)
    eyes = np.array([mark.kind == "eye" for mark in LAYOUT.marks])
    return Places(points=points, eyes=eyes, likeness=np.full(len(points), 0.8))


@pytest.mark.parametrize("degrees", [2.0, 92.0, 178.0, 271.0])
@pytest.mark.parametrize("aspect", ASPECTS)
def test_pose_holds_the_stretch(aspect: float, degrees: float) -> None:
    places = _places(aspect, degrees)
    pose = stretched_poses(places, LAYOUT, SCALE, 4, aspect)[0]
    assert len(pose.seen) == len(LAYOUT.marks)
    assert applied(pose.px_from_mm, mark_points(LAYOUT)) == pytest.approx(places.points, abs=1e-9)
    assert np.array(list(pose.seen.values())) == pytest.approx(places.points)


@pytest.mark.parametrize("degrees", [2.0, 92.0])
def test_no_gap_between_the_stretches_tried(degrees: float) -> None:
    for aspect in np.geomspace(0.82, 1.22, 41):
        places = _places(float(aspect), degrees)
        found = likely_poses(places, LAYOUT, SCALE, 4)
        for tried in ASPECTS:
            found += stretched_poses(places, LAYOUT, SCALE, 4, tried)
        assert found, f"a stretch of {aspect:.3f} falls between those tried"
