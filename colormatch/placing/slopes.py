"""How far the places that tiles share lie apart, and how that follows the unknowns."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

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
    """Observation with all that stays the same while the poses are adjusted.

    Attributes
    ----------
    observation : Observation
    ours, theirs : Places
    root : ndarray of shape (K, 2, 2)
        Symmetric roots of the information.
    """

    observation: Observation
    ours: Places
    theirs: Places
    root: FloatArray

    @classmethod
    def of(cls, poses: tuple[Pose, ...], o: Observation) -> Sighting:
        """Of poses that keep their knots."""
        ours, theirs = Places.of(poses[o.first], o.ours), Places.of(poses[o.second], o.theirs)
        values, vectors = np.linalg.eigh(o.information)
        root = (vectors * np.sqrt(np.maximum(values, 0.0))[:, None, :]) @ vectors.transpose(0, 2, 1)
        return cls(observation=o, ours=ours, theirs=theirs, root=root)

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
    parts : tuple of Part
        Of each observation.
    """

    normal: FloatArray
    parts: tuple[Part, ...]

    def right(self, gaps: tuple[FloatArray, ...]) -> FloatArray:
        """Right-hand side of the measured part for gaps (K, 2) of each observation."""
        right = np.zeros(len(self.normal))
        for part, gap in zip(self.parts, gaps, strict=True):
            pull = part.rows.T @ (part.root @ gap[:, :, None]).reshape(-1)
            for span, place in _placed(part.spans):
                right[span] -= pull[place]
        return right


@dataclass(frozen=True, kw_only=True, eq=False)
class Part:
    """Slopes of one observation's gaps, in units of what they are trusted to.

    Attributes
    ----------
    spans : tuple of slice
        The unknowns they depend on.
    root : ndarray of shape (K, 2, 2)
        Of the information, with the robust weights: from gaps to those units.
    rows : ndarray of shape (2 K, P)
    """

    spans: tuple[slice, ...]
    root: FloatArray
    rows: FloatArray


def _placed(spans: tuple[slice, ...]) -> Iterator[tuple[slice, slice]]:
    """Spans of the unknowns, each with where it lies when they stand in a row."""
    start = 0
    for span in spans:
        end = start + span.stop - span.start
        yield span, slice(start, end)
        start = end


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
        part = _part(unknowns, poses, sighting, weight)
        # A matrix by itself, transposed: half the work of any other product.
        product = part.rows.T @ part.rows
        for down, row in _placed(part.spans):
            for across, column in _placed(part.spans):
                matrix[down, across] += product[row, column]
        parts.append(part)
    return Slopes(normal=matrix, parts=tuple(parts))


def _part(
    unknowns: Unknowns, poses: tuple[Pose, ...], sighting: Sighting, weight: FloatArray
) -> Part:
    """Slopes of one observation's gaps, weighted."""
    o = sighting.observation
    both, places = (poses[o.first], poses[o.second]), (sighting.ours, sighting.theirs)
    spans, slopes = unknowns.gap_slopes((o.first, o.second), both, places)
    root = sighting.root * np.sqrt(weight)[:, None, None]
    # The root is symmetric: its columns serve as its rows.
    rows = root[:, 0, :, None] * slopes[:, :1] + root[:, 1, :, None] * slopes[:, 1:]
    return Part(spans=spans, root=root, rows=rows.reshape(-1, slopes.shape[-1]))
