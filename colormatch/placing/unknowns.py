"""All that is adjusted in a placement, as one row of numbers, and its slopes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from colormatch.model import FloatArray
from colormatch.placing.poses import LENS_TERMS, LENS_UNIT, Pose
from colormatch.placing.splines import spline_design


class Unknowns:
    """Which column belongs to what: all tiles in turn, then the lens."""

    def __init__(self, poses: tuple[Pose, ...]) -> None:
        sizes = [5 + 2 * pose.knots.count for pose in poses]
        self.starts = np.concatenate([[0], np.cumsum(sizes)]).astype(int)
        self.lens = int(self.starts[-1])
        self.count = self.lens + len(LENS_TERMS)

    def add_jacobian(
        self, out: FloatArray, tile: int, pose: Pose, points: FloatArray, sign: float
    ) -> None:
        """Add d(painting)/d(unknowns) at scan points into ``out`` (N, 2, count)."""
        glass = pose.glass(points)
        bent = glass + pose.displacement(glass)
        axes = pose.scale * (pose.rotation[:, ::-1] if pose.along_x else pose.rotation)
        arm = bent @ axes.T
        first = int(self.starts[tile])
        out[:, 0, first] += sign
        out[:, 1, first + 1] += sign
        out[:, 0, first + 2] -= sign * arm[:, 1]
        out[:, 1, first + 2] += sign * arm[:, 0]
        out[:, :, first + 3] += sign * arm
        out[:, :, first + 4] += sign * glass[:, 1:] * axes[:, 1]
        design = spline_design(glass[:, 1], pose.knots)
        for way in (0, 1):
            columns = slice(first + 5 + way, first + 5 + 2 * pose.knots.count, 2)
            out[:, :, columns] += sign * axes[:, way][None, :, None] * design[:, None, :]
        lamp = glass[:, 0] / LENS_UNIT
        for k, (way, power) in enumerate(LENS_TERMS):
            out[:, :, self.lens + k] += sign * lamp[:, None] ** power * axes[:, way]

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
