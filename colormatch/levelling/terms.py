"""The terms of the light and their unknowns.

Log light of a tile over the true one = gain(tile) + profile(lamp)
+ carriage(way) + drift(tile, way) + field(tile, lamp, way), each for three
parts of the colour: the mean of the channels and two differences.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.levelling.panels import product
from colormatch.levelling.splines import Spline, differences_prior, field_prior, mean_prior
from colormatch.model import FloatArray

_ORTHONORMAL = np.array(
    [
        [1 / np.sqrt(3), 1 / np.sqrt(3), 1 / np.sqrt(3)],
        [1 / np.sqrt(2), 0.0, -1 / np.sqrt(2)],
        [1 / np.sqrt(6), -2 / np.sqrt(6), 1 / np.sqrt(6)],
    ]
)
PARTS_FROM_RGB = _ORTHONORMAL / np.sqrt(3)
"""Mean of the channels and two differences, used as ``rgb @ m.T``."""
RGB_FROM_PARTS = _ORTHONORMAL.T * np.sqrt(3)

PROFILE_KNOTS = 9
FIELD_REACH = 80.0
"""Within this distance of the data, mm, a smooth field returns to zero."""
MOST_UNKNOWNS = 800
MEAN_SPREAD = 1e-4
"""Profile and fields have no mean: the gain has it."""
RAMP_AND_BOW = np.array([1.0, 0.5])
"""Size of the quadratic part of carriage drift relative to the linear one."""


@dataclass(frozen=True, kw_only=True)
class Spreads:
    """One sigma of each term before the data, log light: (mean, differences).

    Attributes
    ----------
    gain : tuple of float
        Of a tile.
    profile : tuple of float
        Along the lamp, its coefficients.
    profile_odd : tuple of float
        Their part that differs between the lamp's two halves; 0.6 % between
        halves was measured on a flatbed.
    profile_bend : tuple of float
        Third differences of them: a parabola is free, since the density of
        flatbeds rises as a parabola away from the lamp's middle.
    carriage : tuple of float
        Linear and quadratic change along the way shared by all tiles, at its ends.
    drift : tuple of float
        The same of one tile alone.
    field : tuple of float
        Smooth field of one tile.
    """

    gain: tuple[float, float] = (0.5, 0.3)
    profile: tuple[float, float] = (0.035, 0.008)
    profile_odd: tuple[float, float] = (0.012, 0.003)
    profile_bend: tuple[float, float] = (0.004, 0.001)
    carriage: tuple[float, float] = (0.01, 0.002)
    drift: tuple[float, float] = (0.005, 0.001)
    field: tuple[float, float] = (0.02, 0.004)


@dataclass(frozen=True, kw_only=True)
class Area:
    """A tile's extent on the glass, mm: lamp from, to; way from, to; whole scan's lamp."""

    lamp: tuple[float, float]
    way: tuple[float, float]
    scan: tuple[float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class Terms:
    """Which unknown is where in the vector.

    Attributes
    ----------
    areas : tuple of Area
        One per tile.
    profile : Spline
        Along the lamp, shared.
    way : tuple of float
        Extent of all tiles along the carriage's way.
    strips : tuple of float
        Per tile, one sigma of the error that all places of its strip share.
    fields : tuple of (Spline, Spline)
        Per tile, along the way and along the lamp; empty if there are none.
    """

    areas: tuple[Area, ...]
    profile: Spline
    way: tuple[float, float]
    strips: tuple[float, ...]
    fields: tuple[tuple[Spline, Spline], ...]

    @classmethod
    def over(
        cls, areas: Sequence[Area], strips: Sequence[float], *, field_spacing: float | None
    ) -> Terms:
        """Lay out the unknowns of tiles; None for no fields."""
        lamp = lamp_extent(areas)
        way = (min(a.way[0] for a in areas), max(a.way[1] for a in areas))
        fields: list[tuple[Spline, Spline]] = []
        if field_spacing is not None:
            fields = [
                (
                    Spline.over(*a.way, spacing=field_spacing),
                    Spline.over(*a.lamp, spacing=field_spacing),
                )
                for a in areas
            ]
        pieces = PROFILE_KNOTS - 3
        profile = Spline.over(*lamp, spacing=max(lamp[1] - lamp[0], 1.0) / pieces)
        return cls(
            areas=tuple(areas),
            profile=profile,
            way=way,
            strips=tuple(strips),
            fields=tuple(fields),
        )

    @property
    def first_carriage(self) -> int:
        """Where the shared carriage terms begin."""
        return len(self.areas) + self.profile.count

    @property
    def first_drift(self) -> int:
        """Where the tiles' own carriage terms begin."""
        return self.first_carriage + 2

    @property
    def first_strip(self) -> int:
        """Where the strips' own errors begin."""
        return self.first_drift + 2 * len(self.areas)

    @property
    def first_field(self) -> int:
        """Where the fields begin: the number of unknowns without them."""
        return self.first_strip + len(self.areas)

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return self.first_field + sum(a.count * b.count for a, b in self.fields)

    def field_columns(self, tile: int) -> slice:
        """Unknowns of a tile's field."""
        sizes = [a.count * b.count for a, b in self.fields]
        start = self.first_field + sum(sizes[:tile])
        return slice(start, start + (sizes[tile] if sizes else 0))

    def rows(self, tile: int, glass: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
        """Unknowns that a tile's places touch, and their weights.

        Parameters
        ----------
        tile : int
            Which tile.
        glass : ndarray of shape (N, 2)
            Places on the glass, mm.

        Returns
        -------
        columns : ndarray of int, shape (C,)
        design : ndarray of shape (N, C)
        """
        lamp, way = glass[:, 0], glass[:, 1]
        drift = self.first_drift + 2 * tile
        columns = [
            np.array([tile]),
            len(self.areas) + np.arange(self.profile.count),
            self.first_carriage + np.arange(2),
            drift + np.arange(2),
        ]
        designs = [
            np.ones((len(glass), 1)),
            self.profile.design(lamp),
            ramp_and_bow(way, self.way),
            ramp_and_bow(way, self.areas[tile].way),
        ]
        if self.fields:
            touched, weights = self._field_rows(tile, lamp, way)
            columns.append(touched)
            designs.append(weights)
        return np.concatenate(columns), np.concatenate(designs, axis=1)

    def _field_rows(
        self, tile: int, lamp: FloatArray, way: FloatArray
    ) -> tuple[NDArray[np.intp], FloatArray]:
        down, across = self.fields[tile]
        one, two = down.design(way), across.design(lamp)
        rows, columns = (np.flatnonzero(d.any(axis=0)) for d in (one, two))
        weights = one[:, rows, None] * two[:, None, columns]
        touched = rows[:, None] * across.count + columns[None, :]
        start = self.field_columns(tile).start
        return start + touched.ravel(), weights.reshape(len(lamp), -1)

    def on_grid(
        self, tile: int, lamp: FloatArray, way: FloatArray, unknowns: FloatArray
    ) -> dict[str, FloatArray]:
        """Evaluate each term on a grid of the glass.

        Parameters
        ----------
        tile : int
            Which tile.
        lamp, way : ndarray of shape (n,), (m,)
            Places along both axes, mm.
        unknowns : ndarray of shape (size, 3)
            Three parts.

        Returns
        -------
        dict
            ``gain`` (1, 1, 3), ``profile`` (1, n, 3), ``carriage`` (m, 1, 3) and
            ``field`` (m, n, 3), in parts.
        """
        profile = unknowns[len(self.areas) : self.first_carriage]
        shared = unknowns[self.first_carriage : self.first_drift]
        own = unknowns[self.first_drift + 2 * tile : self.first_drift + 2 * tile + 2]
        carriage = ramp_and_bow(way, self.way) @ shared
        carriage += ramp_and_bow(way, self.areas[tile].way) @ own
        field: FloatArray = np.zeros((len(way), len(lamp), 3))
        if self.fields:
            down, across = self.fields[tile]
            grid = unknowns[self.field_columns(tile)].reshape(down.count, across.count, 3)
            half = product(down.design(way), grid.reshape(down.count, -1))
            half = half.reshape(len(way), across.count, 3).transpose(1, 0, 2)
            field = product(across.design(lamp), half.reshape(across.count, -1))
            field = field.reshape(len(lamp), len(way), 3).transpose(1, 0, 2)
        return {
            "gain": unknowns[tile][None, None],
            "profile": (self.profile.design(lamp) @ profile)[None],
            "carriage": carriage[:, None],
            "field": field,
        }

    def prior(self, spreads: Spreads, part: int) -> FloatArray:
        """Precision (size, size) of the unknowns before the data, for one part."""
        kind = min(part, 1)
        precision = np.zeros((self.size, self.size))
        count, knots = len(self.areas), self.profile.count
        gains = np.arange(count)
        precision[gains, gains] = spreads.gain[kind] ** -2.0
        at = slice(count, count + knots)
        precision[at, at] = (
            np.eye(knots) / spreads.profile[kind] ** 2
            + (np.eye(knots) - np.eye(knots)[::-1]) / (2.0 * spreads.profile_odd[kind] ** 2)
            + differences_prior(knots, 3, spreads.profile_bend[kind])
            + mean_prior(knots, MEAN_SPREAD)
        )
        shared = np.arange(self.first_carriage, self.first_drift)
        precision[shared, shared] = (spreads.carriage[kind] * RAMP_AND_BOW) ** -2.0
        own = np.arange(self.first_drift, self.first_strip)
        precision[own, own] = (spreads.drift[kind] * np.tile(RAMP_AND_BOW, count)) ** -2.0
        strips = np.arange(self.first_strip, self.first_field)
        precision[strips, strips] = np.asarray(self.strips) ** -2.0
        for tile in range(len(self.fields)):
            at = self.field_columns(tile)
            precision[at, at] = self._field_prior(tile) / spreads.field[kind] ** 2
            precision[at, at] += mean_prior(at.stop - at.start, MEAN_SPREAD)
        return precision

    def _field_prior(self, tile: int) -> FloatArray:
        down, across = self.fields[tile]
        return field_prior(
            (down.count, across.count), (down.spacing, across.spacing), reach=FIELD_REACH
        )


def lamp_extent(areas: Sequence[Area]) -> tuple[float, float]:
    """Extent of all scans along the lamp, so that its middle is the lamp's."""
    return (
        min(min(a.scan[0], a.lamp[0]) for a in areas),
        max(max(a.scan[1], a.lamp[1]) for a in areas),
    )


def ramp_and_bow(way: FloatArray, extent: tuple[float, float]) -> FloatArray:
    """Linear and quadratic course, (N, 2): -1 to 1 over the extent, and without mean."""
    half = max((extent[1] - extent[0]) / 2, 1e-6)
    along = np.clip((way - (extent[0] + extent[1]) / 2) / half, -1.0, 1.0)
    return np.column_stack([along, along**2 - 1.0 / 3.0])
