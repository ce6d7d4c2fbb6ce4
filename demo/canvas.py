"""A painting surface: strokes of paint mixtures, kept as maps and not as colours.

Every pixel holds a number of a paint, a load (where it lies between the two
ends of that paint) and the height of the paint film. Colour comes later, when
a light and an eye or a sensor are chosen.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray

from . import paints

NODES = 9
"""Spectra along each paint, from load 0 to load 1; between them, linear."""

_SHIFT = 4
_FULL = 65535


class Canvas:
    """Maps being painted on.

    Parameters
    ----------
    width, height : float
        Size in mm.
    ppi : float
        Pixels per inch of the maps.
    ground : ndarray of shape (36,)
        Reflectance of the bare support.
    surface : paints.Surface
        How the paints meet the air.
    rng : numpy.random.Generator
        The painter's hand.
    """

    def __init__(
        self,
        width: float,
        height: float,
        *,
        ppi: float,
        ground: FloatArray,
        surface: paints.Surface,
        rng: np.random.Generator,
    ) -> None:
        self.width, self.height, self.ppi = width, height, ppi
        self.ground, self.surface, self.rng = ground, surface, rng
        shape = (round(height * ppi / 25.4), round(width * ppi / 25.4), 3)
        self.maps: NDArray[np.uint16] = np.zeros(shape, np.uint16)
        self.maps[..., 2] = _FULL // 4
        self.spectra: list[FloatArray] = [np.repeat(ground[None], NODES, axis=0)]

    def paint(self, start: paints.Recipe, end: paints.Recipe) -> int:
        """Mix a hiding paint, named by a number, that goes from one mixture to another."""
        self.spectra.append(paints.blend(start, end, self.surface, NODES))
        return len(self.spectra) - 1

    def wash(self, recipe: paints.Recipe) -> int:
        """Thin a transparent paint, named by a number, for the bare ground."""
        self.spectra.append(paints.wash(recipe, self.ground, self.surface, NODES))
        return len(self.spectra) - 1

    def family(
        self, start: paints.Recipe, end: paints.Recipe, *, count: int, spread: float = 0.25
    ) -> list[int]:
        """Numbers of ``count`` hiding paints mixed by hand, none quite like another."""
        return [
            self.paint(self.shaken(start, spread), self.shaken(end, spread)) for _ in range(count)
        ]

    def washes(self, recipe: paints.Recipe, *, count: int, spread: float = 0.25) -> list[int]:
        """Numbers of ``count`` washes mixed by hand."""
        return [self.wash(self.shaken(recipe, spread)) for _ in range(count)]

    def shaken(self, recipe: paints.Recipe, spread: float) -> paints.Recipe:
        """Give the same paints, parts each off by a factor of about ``1 + spread``."""
        return {
            name: part * float(np.exp(spread * self.rng.standard_normal()))
            for name, part in recipe.items()
        }

    def pick(self, numbers: Sequence[int]) -> int:
        """One of several paints."""
        return int(numbers[int(self.rng.integers(len(numbers)))])

    def polygon(self, points: FloatArray, paint: int, *, load: float, height: float = 0.3) -> None:
        """Fill a polygon, (N, 2) mm, evenly."""
        import cv2

        cv2.fillPoly(
            self.maps, [self._pixels(points)], self._value(paint, load, height), shift=_SHIFT
        )

    def disc(
        self,
        centre: tuple[float, float],
        radius: float,
        paint: int,
        *,
        load: float,
        height: float = 0.3,
    ) -> None:
        """Fill a disc, mm."""
        turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)
        rim = np.array(centre) + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        self.polygon(rim, paint, load=load, height=height)

    def line(
        self, points: FloatArray, width: float, paint: int, *, load: float, height: float = 0.3
    ) -> None:
        """Draw a thin line through points, (N, 2) mm."""
        import cv2

        thick = max(1, round(width * self.ppi / 25.4))
        value = self._value(paint, load, height)
        cv2.polylines(self.maps, [self._pixels(points)], False, value, thick, cv2.LINE_8, _SHIFT)

    def stroke(
        self,
        points: FloatArray,
        width: float,
        paint: int,
        *,
        load: float = 0.5,
        spread: float = 0.12,
        dry: float = 0.15,
        body: float = 0.4,
    ) -> None:
        """One brush stroke along points, (N, 2) mm, bristle by bristle.

        ``spread`` is how much the load differs between bristles, ``dry`` how
        ragged the ends are (share of the length), ``body`` the mean height.
        """
        path = _resampled(points, 24)
        slope = np.gradient(path, axis=0)
        normal = np.stack([-slope[:, 1], slope[:, 0]], axis=1)
        normal /= np.linalg.norm(normal, axis=1, keepdims=True) + 1e-9
        count = int(np.clip(width / 0.35, 3, 16))
        taper = np.clip(np.sin(np.linspace(0.25, np.pi - 0.25, 24)) * 1.6, 0, 1)[:, None]
        for offset in self.rng.permutation(np.linspace(-0.5, 0.5, count)):
            first = int(self.rng.random() * dry * 23)
            last = 24 - int(self.rng.random() * dry * 23)
            bristle = (path + offset * width * taper * normal)[first:last]
            shade = load + spread * self.rng.standard_normal()
            film = body + 0.25 * self.rng.standard_normal() + 0.2 * abs(offset)
            self.line(bristle, 1.5 * width / count, paint, load=shade, height=film)

    def _pixels(self, points: FloatArray) -> NDArray[np.int32]:
        px = np.asarray(points) * self.ppi / 25.4 - 0.5
        return np.round(px * (1 << _SHIFT)).astype(np.int32)

    @staticmethod
    def _value(paint: int, load: float, height: float) -> tuple[int, int, int]:
        shares = np.clip([load, height], 0, 1) * _FULL
        return paint, int(shares[0]), int(shares[1])


def _resampled(points: FloatArray, count: int) -> FloatArray:
    """Points at equal parameter steps on a smooth curve through a few points."""
    points = np.asarray(points, float)
    if len(points) == 3:
        t = np.linspace(0, 1, count)[:, None]
        bend = 2 * points[1] - 0.5 * (points[0] + points[2])
        return np.asarray((1 - t) ** 2 * points[0] + 2 * t * (1 - t) * bend + t**2 * points[2])
    at, steps = np.linspace(0, len(points) - 1, count), np.arange(len(points))
    return np.stack([np.interp(at, steps, points[:, axis]) for axis in range(2)], axis=1)
