"""Targets in a picture that is stretched one way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from colormatch.finding.poses import Pose, likely_poses
from colormatch.finding.search import Places
from colormatch.model import FloatArray, Layout

ASPECTS = (1.07, 0.93, 1.13, 0.88, 1.2, 0.83)
"""Stretch of x over that of y, likeliest first. Neighbours are so near that marks 15 mm
apart stay within a pose's reach between them; the last reach to 20 % and a little more."""

LEAST = 0.6
"""Likeness of a place that may be a mark: rings a fifth longer than wide have 0.7 and more."""

MOST = 80
"""Places of each look; a strip's own marks are among the most alike."""


def stretched_poses(
    places: Places, layout: Layout, scale: float, needed: int, aspect: float
) -> list[Pose]:
    """Find poses as `likely_poses` does, in a picture stretched one way.

    Parameters
    ----------
    places : Places
        Candidates, in the picture as it is.
    layout : Layout
        The design.
    scale : float
        Pixels per millimetre, geometric mean of both directions.
    needed : int
        Least number of marks seen.
    aspect : float
        Pixels per millimetre along x over those along y.

    Returns
    -------
    list of Pose
        Their `px_from_mm` holds the stretch.
    """
    stretch = np.sqrt([aspect, 1 / aspect])
    square = replace(places, points=places.points / stretch)
    return [_stretched(pose, stretch) for pose in likely_poses(square, layout, scale, needed)]


def _stretched(pose: Pose, stretch: FloatArray) -> Pose:
    """Lead a pose back into the picture as it is."""
    seen = {
        name: (float(x * stretch[0]), float(y * stretch[1])) for name, (x, y) in pose.seen.items()
    }
    return replace(pose, px_from_mm=pose.px_from_mm * stretch[:, None], seen=seen)
