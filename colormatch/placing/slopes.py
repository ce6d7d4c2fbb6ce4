"""How far the places that tiles share lie apart, and how that follows the unknowns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray
from colormatch.placing.poses import Pose
from colormatch.placing.unknowns import Unknowns


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


def gap_of(poses: tuple[Pose, ...], o: Observation) -> FloatArray:
    """First minus second on the painting, (K, 2) mm."""
    ours = poses[o.first].painting_from_scan(o.ours)
    theirs = poses[o.second].painting_from_scan(o.theirs)
    return np.asarray(ours - theirs)


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
    observations: tuple[Observation, ...],
    weights: tuple[FloatArray, ...],
) -> Slopes:
    """Linearise all gaps about the poses."""
    matrix = np.zeros((unknowns.count, unknowns.count))
    parts = []
    for o, weight in zip(observations, weights, strict=True):
        rows = np.zeros((len(o.ours), 2, unknowns.count))
        unknowns.add_jacobian(rows, o.first, poses[o.first], o.ours, 1.0)
        unknowns.add_jacobian(rows, o.second, poses[o.second], o.theirs, -1.0)
        used = np.flatnonzero(rows.any(axis=(0, 1)))
        rows = rows[:, :, used]
        precise = o.information * weight[:, None, None]
        weighted = np.einsum("kij,kjp->kip", precise, rows).reshape(-1, len(used))
        matrix[np.ix_(used, used)] += rows.reshape(-1, len(used)).T @ weighted
        parts.append((used, weighted))
    return Slopes(normal=matrix, parts=tuple(parts))
