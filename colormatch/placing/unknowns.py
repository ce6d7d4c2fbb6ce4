"""All that is adjusted in a placement, as one row of numbers, and its slopes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from colormatch.model import FloatArray
from colormatch.placing.poses import LENS_TERMS, LENS_UNIT, Pose
from colormatch.placing.splines import spline_design


@dataclass(frozen=True, kw_only=True, eq=False)
class Places:
    """Places of one scan, with all that stays the same while its pose is adjusted.

    Attributes
    ----------
    glass : ndarray of shape (K, 2)
        See `Pose.glass`.
    design : ndarray of shape (K, knots)
        Its product with the carriage's coefficients is the carriage's displacement.
    lamp : ndarray of shape (K, terms)
        Its product with the lens's coefficients is what the lens adds, each term its way.
    """

    glass: FloatArray
    design: FloatArray
    lamp: FloatArray

    @classmethod
    def of(cls, pose: Pose, points: FloatArray) -> Places:
        """Scan pixels (K, 2) of a pose with these knots, wherever it lies."""
        glass = pose.glass(points)
        lamp = glass[:, 0] / LENS_UNIT
        return cls(
            glass=glass,
            design=spline_design(glass[:, 1], pose.knots),
            lamp=np.stack([lamp**power for _, power in LENS_TERMS], axis=1),
        )

    def bent(self, pose: Pose) -> FloatArray:
        """Glass positions with the displacement of lens and carriage, (K, 2) mm."""
        bent = self.glass + self.design @ pose.carriage
        bent[:, 1] += pose.stretch * self.glass[:, 1]
        for k, (way, _) in enumerate(LENS_TERMS):
            bent[:, way] += pose.lens[k] * self.lamp[:, k]
        return np.asarray(bent)

    def painting(self, pose: Pose) -> FloatArray:
        """Painting millimetres, as `Pose.painting_from_scan` has them, (K, 2)."""
        return pose.laid(self.bent(pose))

    def slopes(self, pose: Pose) -> FloatArray:
        """Slopes d(painting)/d(unknowns): the pose's own, then the lens's, (K, 2, P)."""
        axes = pose.scale * (pose.rotation[:, ::-1] if pose.along_x else pose.rotation)
        arm = self.bent(pose) @ axes.T
        swing = self.design.shape[1]
        out = np.zeros((len(arm), 2, 5 + 2 * swing + len(LENS_TERMS)))
        out[:, 0, 0] = out[:, 1, 1] = 1.0
        out[:, 0, 2], out[:, 1, 2] = -arm[:, 1], arm[:, 0]
        out[:, :, 3] = arm
        out[:, :, 4] = self.glass[:, 1:] * axes[:, 1]
        for axis in (0, 1):
            for way in (0, 1):
                out[:, axis, 5 + way : 5 + 2 * swing : 2] = axes[axis, way] * self.design
            for k, (way, _) in enumerate(LENS_TERMS):
                out[:, axis, 5 + 2 * swing + k] = axes[axis, way] * self.lamp[:, k]
        return out


class Unknowns:
    """Which column belongs to what: all tiles in turn, then the lens."""

    def __init__(self, poses: tuple[Pose, ...]) -> None:
        sizes = [5 + 2 * pose.knots.count for pose in poses]
        self.starts = np.concatenate([[0], np.cumsum(sizes)]).astype(int)
        self.lens = int(self.starts[-1])
        self.count = self.lens + len(LENS_TERMS)

    def own(self, tile: int) -> slice:
        """Columns of a tile's own unknowns."""
        return slice(int(self.starts[tile]), int(self.starts[tile + 1]))

    def gap_slopes(
        self, tiles: tuple[int, int], poses: tuple[Pose, Pose], places: tuple[Places, Places]
    ) -> tuple[tuple[slice, ...], FloatArray]:
        """Columns that a gap, first minus second, depends on, and its slopes (K, 2, P).

        The columns are those of the first, of the second and of the lens, in a row.
        """
        first, second = (there.slopes(pose) for pose, there in zip(poses, places, strict=True))
        lens = len(LENS_TERMS)
        rows = np.concatenate(
            [first[..., :-lens], -second[..., :-lens], first[..., -lens:] - second[..., -lens:]],
            axis=-1,
        )
        return (self.own(tiles[0]), self.own(tiles[1]), slice(self.lens, self.count)), rows

    def values(self, pose: Pose) -> FloatArray:
        """Pose's unknowns with a prior at zero: all but shift and turn."""
        swing = pose.carriage.reshape(-1)
        return np.concatenate([[0.0, 0.0, 0.0, np.log(pose.scale), pose.stretch], swing])

    def stepped(self, tile: int, pose: Pose, step: FloatArray) -> Pose:
        """Pose after a step of the unknowns."""
        own = step[self.starts[tile] : self.starts[tile + 1]]
        return replace(
            pose,
            shift=pose.shift + own[:2],
            angle=pose.angle + float(np.degrees(own[2])),
            scale=pose.scale * float(np.exp(own[3])),
            stretch=pose.stretch + float(own[4]),
            carriage=pose.carriage + own[5:].reshape(-1, 2),
            lens=pose.lens + step[self.lens :],
        )
