"""Where everything lies: scan pixels, millimetres on the glass, millimetres on a sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray


@dataclass(frozen=True, kw_only=True)
class Placing:
    """How a sheet lies on the glass.

    Attributes
    ----------
    centre : tuple of float
        A point of the sheet, mm from its top left corner.
    at : tuple of float
        Where that point lies on the glass, mm from the scan's top left edge.
    turns : int
        Quarter turns clockwise.
    slant : float
        Degrees clockwise on top of the quarter turns.
    """

    centre: tuple[float, float]
    at: tuple[float, float]
    turns: int = 0
    slant: float = 0.0

    @property
    def rotation(self) -> FloatArray:
        """Matrix (2, 2) that turns directions on the sheet into those on the glass."""
        angle = np.radians(90 * self.turns + self.slant)
        cos, sin = np.cos(angle), np.sin(angle)
        return np.array([[cos, -sin], [sin, cos]])

    def glass_from_sheet(self, points: FloatArray) -> FloatArray:
        """Points (..., 2) on the sheet, mm, as points on the glass, mm."""
        return np.asarray((points - np.array(self.centre)) @ self.rotation.T + np.array(self.at))

    def sheet_from_glass(self, points: FloatArray) -> FloatArray:
        """Inverse of `glass_from_sheet`."""
        return np.asarray((points - np.array(self.at)) @ self.rotation + np.array(self.centre))


@dataclass(frozen=True, kw_only=True)
class Carriage:
    """How scan pixels lie on the glass.

    Attributes
    ----------
    ppi : float
        Nominal pixels per inch.
    stretch : float
        True step of the carriage over its nominal step.
    wobble, period, phase : float
        Amplitude and period of the carriage's error in mm, phase in radians.
    lens : float
        Displacement in mm at both ends of the lamp, growing with the cube of
        the distance from the middle.
    width : float
        Width of the scan, mm.
    """

    ppi: float
    width: float
    stretch: float = 1.0
    wobble: float = 0.0
    period: float = 31.0
    phase: float = 0.0
    lens: float = 0.0

    def glass_from_px(self, points: FloatArray) -> FloatArray:
        """Scan pixels (..., 2), ``(x, y)``, as mm on the glass."""
        points = np.asarray(points)
        return np.stack([self.glass_x(points[..., 0]), self.glass_y(points[..., 1])], axis=-1)

    def glass_x(self, columns: FloatArray) -> FloatArray:
        """Columns of the scan as mm along the lamp."""
        mm = (columns + 0.5) * 25.4 / self.ppi
        return mm + self.lens * (2 * mm / self.width - 1) ** 3

    def glass_y(self, rows: FloatArray) -> FloatArray:
        """Rows of the scan as mm along the carriage."""
        mm = (rows + 0.5) * 25.4 / self.ppi
        return np.asarray(
            mm * self.stretch + self.wobble * np.sin(2 * np.pi * mm / self.period + self.phase)
        )

    def px_from_glass(self, points: FloatArray) -> FloatArray:
        """Inverse of `glass_from_px`, to 1e-9 px, by repeated substitution."""
        goal = np.asarray(points, float)
        px = goal * self.ppi / 25.4 - 0.5
        for _ in range(30):
            px = px + (goal - self.glass_from_px(px)) * self.ppi / 25.4
        return px


@dataclass(frozen=True, kw_only=True)
class SheetMap:
    """Exact map between scan pixels and a sheet."""

    carriage: Carriage
    placing: Placing

    def sheet_from_px(self, points: FloatArray) -> FloatArray:
        """Scan pixels (..., 2) as mm on the sheet."""
        return self.placing.sheet_from_glass(self.carriage.glass_from_px(points))

    def grid(self, rows: range, columns: int) -> tuple[FloatArray, FloatArray]:
        """X and y on the sheet, mm, of every pixel of some rows: two arrays (h, columns)."""
        x = self.carriage.glass_x(np.arange(float(columns))) - self.placing.at[0]
        y = self.carriage.glass_y(np.asarray(rows, float)) - self.placing.at[1]
        turn, middle = self.placing.rotation, self.placing.centre
        across = x * turn[0, 0] + middle[0], x * turn[0, 1] + middle[1]
        down = y * turn[1, 0], y * turn[1, 1]
        return across[0] + down[0][:, None], across[1] + down[1][:, None]

    def px_from_sheet(self, points: FloatArray) -> FloatArray:
        """Points (..., 2) on the sheet, mm, as scan pixels."""
        return self.carriage.px_from_glass(self.placing.glass_from_sheet(np.asarray(points)))
