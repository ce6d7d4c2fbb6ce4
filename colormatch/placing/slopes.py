"""How far the places that tiles share lie apart, and how that follows the unknowns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray
from colormatch.placing.poses import Pose
from colormatch.placing.unknowns import Places, Unknowns


@dataclass(frozen=True, kw_only=True, eq=False)
class Observation:
    """Places two tiles share.

    Attributes
    ----------
    first, second : int
        Which tiles.
    ours, theirs : ndarray of shape (K, 2)
        Scan pixels of each.
    information : ndarray of shape (K, 2, 2)
        Inverse covariance of the gap between them, 1/mm², painting axes.
    """

    first: int
    second: int
    ours: FloatArray
    theirs: FloatArray
    information: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Sighting:
    """Observation with all that stays the same while the poses are adjusted."""

    observation: Observation
    ours: Places
    theirs: Places

    @classmethod
    def of(cls, poses: tuple[Pose, ...], o: Observation) -> Sighting:
        """Of poses that keep their knots."""
        ours, theirs = Places.of(poses[o.first], o.ours), Places.of(poses[o.second], o.theirs)
        return cls(observation=o, ours=ours, theirs=theirs)

    def gap(self, poses: tuple[Pose, ...]) -> FloatArray:
        """First minus second on the painting, (K, 2) mm."""
        o = self.observation
        return self.ours.painting(poses[o.first]) - self.theirs.painting(poses[o.second])


@dataclass(frozen=True, kw_only=True, eq=False)
class Slopes:
    """How gaps follow the unknowns, weighted.

    Attributes
    ----------
    normal : ndarray of shape (N, N)
        Normal matrix of the measured part.
    parts : tuple of (ndarray of int, (P,); ndarray, (2 K, P))
        Per observation, which unknowns its gaps depend on, and the weighted slopes.
    """

    normal: FloatArray
    parts: tuple[tuple[NDArray[np.intp], FloatArray], ...]

    def right(self, gaps: tuple[FloatArray, ...]) -> FloatArray:
        """Right-hand side of the measured part for gaps (K, 2) of each observation."""
        right = np.zeros(len(self.normal))
        for (used, weighted), gap in zip(self.parts, gaps, strict=True):
            right[used] -= weighted.T @ gap.reshape(-1)
        return right


def linearised(
    unknowns: Unknowns,
    poses: tuple[Pose, ...],
    sightings: tuple[Sighting, ...],
    weights: tuple[FloatArray, ...],
) -> Slopes:
    """Linearise all gaps about the poses."""
    matrix = np.zeros((unknowns.count, unknowns.count))
    parts = []
    for sighting, weight in zip(sightings, weights, strict=True):
        o = sighting.observation
        used, rows = unknowns.gap_slopes(
            (o.first, o.second),
            (poses[o.first], poses[o.second]),
            (sighting.ours, sighting.theirs),
        )
        precise = (o.information * weight[:, None, None])[..., None]
        weighted = precise[:, :, 0] * rows[:, :1] + precise[:, :, 1] * rows[:, 1:]
        weighted = weighted.reshape(-1, len(used))
        matrix[np.ix_(used, used)] += rows.reshape(-1, len(used)).T @ weighted
        parts.append((used, weighted))
    return Slopes(normal=matrix, parts=tuple(parts))
