"""Which map a job uses: the strip's 3x3, one with the paints, or the root-polynomial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from colormatch.fitting.flare import Surroundings
from colormatch.fitting.maps import ColourMap, Hull, shares
from colormatch.fitting.paints import (
    PLENTY,
    MapFit,
    Rows,
    paint_hull,
    paint_matrix,
    paint_score,
    root_polynomial,
    strip_fit,
)
from colormatch.fitting.problem import Solution
from colormatch.model import FloatArray

LEAST_PAINTS = 6
"""Paints from which they take part in the fit."""
LEAST_GAIN = 0.15
"""Part of the left-out error that a root-polynomial must take away."""
LEAST_PLAIN_GAIN = 0.05
"""The same of a 3x3 with the paints against the strip's own: less is chance."""
LEAST_COVER = 0.95
"""Part of the picture whose hues must lie within the paints' hull."""
NEAR = 0.02
"""How far beyond the hull still counts as within, shares of light: a third of its rim."""
LEAST_PLAIN_COVER = 0.5
"""The same part below which the paints are not the picture's: they then take no part."""
DIM = 0.03
"""Sum of the relative light of three channels below which a hue is only noise."""
GREYISH = 0.01
"""Distance from the paper's hue, shares of light, within which all maps agree anyhow."""


class Model(StrEnum):
    """How a map is called in the report."""

    STRIP = "3x3 of the strip"
    PAINTS = "3x3 of strip and paints"
    ROOTS = "root-polynomial of strip and paints"


class WhyNot(StrEnum):
    """What kept a root-polynomial from being used."""

    FEW = "few paints"
    FLAT = "paints of too few hues"
    GAIN = "little gain"
    COVER = "colours beyond the paints"


@dataclass(frozen=True, kw_only=True, eq=False)
class Decision:
    """The chosen map, the others, and why.

    Attributes
    ----------
    model : Model
    fits : dict
        `MapFit` of each model that could be fitted.
    rows : Rows
        What they were fitted to.
    gain : float or None
        Part of the left-out error on paint that the root-polynomial takes away from
        the better 3x3; negative if it adds to it.
    cover : float or None
        Part of the picture whose hues lie within the paints' hull.
    why_not : WhyNot or None
        None where the root-polynomial is used.
    """

    model: Model
    fits: dict[Model, MapFit]
    rows: Rows
    gain: float | None
    cover: float | None
    why_not: WhyNot | None

    @property
    def map(self) -> ColourMap:
        """The map in use."""
        return self.fits[self.model].map


def decide(rows: Rows, xyz_from_rgb: FloatArray, pictures: Sequence[FloatArray]) -> Decision:
    """Fit all maps and choose.

    Parameters
    ----------
    rows : Rows
    xyz_from_rgb : ndarray of shape (3, 3)
        The strip's own.
    pictures : sequence of ndarray of shape (P, 3)
        Linear light of places of the tiles, the strips left out.
    """
    fits = {Model.STRIP: strip_fit(rows, xyz_from_rgb)}
    if rows.paint.sum() < LEAST_PAINTS:
        return _plain(rows, fits, None, WhyNot.FEW)
    hull = paint_hull(rows)
    cover = 0.0 if hull is None else covered(hull, pictures, rows.white)
    fits[Model.PAINTS] = paint_matrix(rows, xyz_from_rgb)
    if hull is None:
        return _plain(rows, fits, cover, WhyNot.FLAT)
    if rows.paint.sum() < PLENTY:
        return _plain(rows, fits, cover, WhyNot.FEW)
    fits[Model.ROOTS] = root_polynomial(rows, fits[Model.PAINTS], hull)
    better = min((Model.STRIP, Model.PAINTS), key=lambda model: paint_score(fits[model], rows))
    gain = 1.0 - paint_score(fits[Model.ROOTS], rows) / paint_score(fits[better], rows)
    if cover < LEAST_COVER:
        return _plain(rows, fits, cover, WhyNot.COVER, gain)
    if gain <= LEAST_GAIN:
        return _plain(rows, fits, cover, WhyNot.GAIN, gain)
    return Decision(model=Model.ROOTS, fits=fits, rows=rows, gain=gain, cover=cover, why_not=None)


def better_plain(rows: Rows, fits: dict[Model, MapFit], cover: float | None) -> Model:
    """Which 3x3 serves the picture: the strip's own unless the other is clearly better."""
    if Model.PAINTS not in fits or cover is None or cover < LEAST_PLAIN_COVER:
        return Model.STRIP
    own, joint = (paint_score(fits[model], rows) for model in (Model.STRIP, Model.PAINTS))
    return Model.PAINTS if joint < (1.0 - LEAST_PLAIN_GAIN) * own else Model.STRIP


def _plain(
    rows: Rows,
    fits: dict[Model, MapFit],
    cover: float | None,
    why_not: WhyNot,
    gain: float | None = None,
) -> Decision:
    model = better_plain(rows, fits, cover)
    return Decision(model=model, fits=fits, rows=rows, gain=gain, cover=cover, why_not=why_not)


def covered(hull: Hull, pictures: Sequence[FloatArray], white: FloatArray) -> float:
    """Part of the places that have a hue, bright enough to tell, within a hull; 1 if none has."""
    light = np.concatenate([np.zeros((0, 3)), *pictures])
    total, part = shares(light, white)
    seen = (total > DIM) & (np.linalg.norm(part - 1 / 3, axis=-1) > GREYISH)
    if not seen.any():
        return 1.0
    return float(np.mean(hull.beyond(part[seen]) <= NEAR))


def picture_light(
    solution: Solution, tile: int, around: Surroundings, keep: NDArray[np.bool_]
) -> FloatArray:
    """Linear light of the small picture's places that ``keep`` (h, w, bool) names, (P, 3)."""
    maps = around.maps(solution.curve.linear)
    places = np.moveaxis(maps, 0, 2)[keep]
    return solution.light(tile, around.picture[keep], places)
