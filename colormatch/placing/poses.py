"""Pose of a tile: from the pixels of its scan to painting millimetres.

A flatbed draws a picture line by line. Along the lamp the drawing is fixed by
its lens (one smooth curve for all scans of one scanner); along the carriage's
way it depends on a motor and differs from scan to scan: G. Wyatt and G. Nave,
Appl. Opt. 56, 3744 (2017), found 0.03 to 0.05 mm across the carriage and none
along the sensor. So a pose is

    painting = shift + scale * turn(glass + lens(lamp) + carriage(way))

with a short polynomial for the lens and a spline, plus a scale, for the
carriage.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from colormatch.model import FloatArray
from colormatch.placing.splines import Knots, spline_values

MM_PER_INCH = 25.4
LENS_UNIT = 100.0
"""Half the length of an A4 lamp, mm; the lens polynomial counts in it."""
LENS_TERMS = ((0, 2), (0, 3), (1, 1), (1, 2), (1, 3))
"""(which way it moves: 0 along the lamp, 1 along the carriage; power)."""
TABLE_STEPS = 128
"""Places per knot at which the carriage spline is tabulated: straight lines between them
are within a ten-thousandth of a swing of the spline, and six times as fast."""
FAR = 1e4
"""Millimetres beyond the rim to which the table goes on straight."""
INVERSE_STEPS = 3
"""Displacements change by less than 0.3 % of the distance: three steps leave 1e-8 mm."""
CARRIAGE_KNOTS = 25.0
"""Spacing of the carriage spline's knots, mm."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Pose:
    """Where one tile lies.

    Attributes
    ----------
    size : tuple of int
        Width and height of the scan, pixels.
    mm_per_px : tuple of float
        From the scan's ppi along x and y.
    along_x : bool
        True if the carriage moved along x in the file, else along y.
    shift : ndarray of shape (2,)
        Where the scan's middle lies on the painting, mm.
    angle : float
        Degrees clockwise on the picture.
    scale : float
        About 1.
    stretch : float
        Extra length along the carriage's way, relative.
    lens : ndarray of shape (5,)
        Millimetres, for `LENS_TERMS`.
    knots : Knots
        Of the carriage spline, millimetres from the scan's middle.
    carriage : ndarray of shape (knots.count, 2)
        Displacement along the lamp and along the way, mm.
    """

    size: tuple[int, int]
    mm_per_px: tuple[float, float]
    along_x: bool = False
    shift: FloatArray
    angle: float = 0.0
    scale: float = 1.0
    stretch: float = 0.0
    lens: FloatArray
    knots: Knots
    carriage: FloatArray

    @property
    def rotation(self) -> FloatArray:
        """2×2 matrix that turns clockwise on a picture with y down."""
        return turning(self.angle)

    def glass(self, points: FloatArray) -> FloatArray:
        """Millimetres (lamp, way) from the scan's middle, undistorted; (N, 2)."""
        middle = (np.array(self.size) - 1.0) / 2.0
        mm = (points - middle) * np.array(self.mm_per_px)
        return np.asarray(mm[:, ::-1] if self.along_x else mm)

    @cached_property
    def swing(self) -> tuple[FloatArray, FloatArray] | None:
        """Places (K,) and the carriage's displacement there (K, 2), mm; None if it has none."""
        if not self.carriage.any():
            return None
        pieces = self.knots.count - 3
        inside = self.knots.start + self.knots.spacing * np.linspace(
            0, pieces, pieces * TABLE_STEPS + 1
        )
        places = np.concatenate([[inside[0] - FAR], inside, [inside[-1] + FAR]])
        return places, spline_values(places, self.carriage, self.knots)

    def displacement(self, glass: FloatArray) -> FloatArray:
        """Sum what lens and carriage add at glass positions, (N, 2) mm."""
        moved = np.zeros(glass.shape)
        if self.swing is not None:
            places, values = self.swing
            moved[:, 0] = np.interp(glass[:, 1], places, values[:, 0])
            moved[:, 1] = np.interp(glass[:, 1], places, values[:, 1])
        moved[:, 1] += self.stretch * glass[:, 1]
        lamp = glass[:, 0] / LENS_UNIT
        # Products, because a power of an array costs twenty times as much.
        powers = {1: lamp, 2: lamp * lamp, 3: lamp * lamp * lamp}
        for (way, power), factor in zip(LENS_TERMS, self.lens, strict=True):
            if factor:
                moved[:, way] += factor * powers[power]
        return moved

    def painting_from_scan(self, points: FloatArray) -> FloatArray:
        """Scan pixels (x, y), shape (N, 2), to painting millimetres."""
        glass = self.glass(np.asarray(points, dtype=float))
        return self.laid(glass + self.displacement(glass))

    def laid(self, bent: FloatArray) -> FloatArray:
        """Glass positions with their displacement, (N, 2) mm, to painting millimetres."""
        drawn = bent[:, ::-1] if self.along_x else bent
        return np.asarray(self.shift + self.scale * drawn @ self.rotation.T)

    def scan_from_painting(self, points: FloatArray) -> FloatArray:
        """Painting millimetres (x, y), shape (N, 2), to scan pixels."""
        drawn = (np.asarray(points, dtype=float) - self.shift) @ self.rotation / self.scale
        bent = drawn[:, ::-1] if self.along_x else drawn
        glass = bent
        for _ in range(INVERSE_STEPS):
            glass = bent - self.displacement(glass)
        mm = glass[:, ::-1] if self.along_x else glass
        return np.asarray(mm / np.array(self.mm_per_px) + (np.array(self.size) - 1.0) / 2.0)

    def moved(self, angle: float, scale: float, shift: FloatArray) -> Pose:
        """Followed by a turn about the origin, a scaling and a shift."""
        return replace(
            self,
            angle=float((self.angle + angle + 180.0) % 360.0 - 180.0),
            scale=self.scale * scale,
            shift=scale * turning(angle) @ self.shift + shift,
        )


def turning(angle: float) -> FloatArray:
    """Matrix of a clockwise turn by ``angle`` degrees, x right and y down."""
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    return np.array([[c, -s], [s, c]])


def resting_pose(
    size: tuple[int, int],
    ppi: tuple[float, float],
    *,
    along_x: bool = False,
    spacing: float = CARRIAGE_KNOTS,
) -> Pose:
    """Pose of an undistorted scan whose middle lies at the origin."""
    mm_per_px = (MM_PER_INCH / ppi[0], MM_PER_INCH / ppi[1])
    way = 0 if along_x else 1
    half = size[way] * mm_per_px[way] / 2.0
    knots = Knots.over(-half, half, spacing)
    return Pose(
        size=size,
        mm_per_px=mm_per_px,
        along_x=along_x,
        shift=np.zeros(2),
        lens=np.zeros(len(LENS_TERMS)),
        knots=knots,
        carriage=np.zeros((knots.count, 2)),
    )
