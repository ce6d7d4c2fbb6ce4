"""The light of the whole glass from a scan of plain white paper.

The sheet tells the lamp's profile, the carriage's drift and what remains
smoothly; it is never divided in, so neither its dust nor its fibres nor its
creases reach a painting.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colormatch.errors import ScanError
from colormatch.levelling.geometry import glass_axes
from colormatch.levelling.panels import product
from colormatch.levelling.records import LevelTile
from colormatch.levelling.robust import Block, fit
from colormatch.levelling.terms import (
    PARTS_FROM_RGB,
    RGB_FROM_PARTS,
    Area,
    Spreads,
    Terms,
)
from colormatch.model import FloatArray

CELL = 5.0
"""Medians over cells this wide, mm, are what is fitted."""
FILLED = 0.6
"""Least valid share of a cell."""
LEAST_CELLS = 200
FIELD_SPACING = 25.0
GRAIN = 0.002
"""Unevenness of plain paper over a cell, log light, to begin with."""
SHEET = Spreads(
    gain=(5.0, 1.0),
    profile=(0.3, 0.05),
    profile_odd=(0.1, 0.02),
    profile_bend=(0.01, 0.003),
    carriage=(0.1, 0.02),
    drift=(0.001, 0.001),
    field=(0.015, 0.004),
)
ROUGHEST = 0.02
"""A sheet whose cells scatter more than this is not plain."""
MOST_LEFT_OUT = 0.35
CUTS = (0.3, 0.15, 0.08, 0.05, 0.03, 0.02, 0.0, 0.0)
APART = 4.0
LEAST_APART = 0.006
"""Cells this many scales, and this log light, away are dust, hairs or creases."""
RIM = 1.1
"""Neighbours within this many cells are left out with them."""


@dataclass(frozen=True, kw_only=True, eq=False)
class BlankMap:
    """Light of the glass as plain paper shows it, without its mean.

    Attributes
    ----------
    terms : Terms
        As if the sheet were a tile.
    unknowns : ndarray of shape (terms.size, 3)
        Three parts.
    sigma : float
        Typical error of the map, log light.
    left_out : float
        Share of cells left out, 0 to 1.
    """

    terms: Terms
    unknowns: FloatArray
    sigma: float
    left_out: float

    def log_light(self, glass: FloatArray) -> FloatArray:
        """Log light (N, 3) at places (N, 2) on the glass, mm; 0 is the mean of the terms."""
        columns, design = self.terms.rows(0, glass)
        unknowns = self.unknowns[columns].copy()
        unknowns[columns == 0] = 0.0
        result: FloatArray = product(design, unknowns) @ RGB_FROM_PARTS.T
        return result

    def on_grid(self, lamp: FloatArray, way: FloatArray) -> FloatArray:
        """Log light (m, n, 3) where rows ``way`` and columns ``lamp`` cross, mm."""
        terms = self.terms.on_grid(0, lamp, way, self.unknowns)
        parts = terms["profile"] + terms["carriage"] + terms["field"]
        result: FloatArray = parts @ RGB_FROM_PARTS.T
        return result


def blank_map(sheet: LevelTile) -> BlankMap:
    """Fit the light of the glass to a scan of plain white paper.

    Parameters
    ----------
    sheet : LevelTile
        Linear light of the paper in the space of the tiles, nothing divided
        out; its map to the painting is not used.

    Returns
    -------
    BlankMap

    Raises
    ------
    ScanError
        If too little of the sheet can be used, or it is not plain.
    """
    glass, parts, count = _cells(sheet)
    if len(glass) < LEAST_CELLS:
        raise ScanError(
            f"{sheet.name}: too little of the blank sheet is usable ({len(glass)} places of "
            f"{LEAST_CELLS}); cover the whole glass with plain white paper, lower the exposure "
            "if it is clipped, and scan it again"
        )
    area = Area(
        lamp=(float(glass[:, 0].min()), float(glass[:, 0].max())),
        way=(float(glass[:, 1].min()), float(glass[:, 1].max())),
        scan=(float(glass[:, 0].min()), float(glass[:, 0].max())),
    )
    terms = Terms.over([area], [1.0], field_spacing=FIELD_SPACING)
    columns, design = terms.rows(0, glass)
    block = Block(
        columns=columns,
        design=design,
        parts=parts,
        sigma=GRAIN * np.sqrt(np.median(count) / count),
        trusted=np.ones(len(glass), dtype=bool),
    )
    return _fitted(sheet.name, terms, block, glass)


def _fitted(name: str, terms: Terms, block: Block, glass: FloatArray) -> BlankMap:
    """Fit, leave out what is not paper, fit again."""
    priors = (terms.prior(SHEET, 0), terms.prior(SHEET, 1))
    first = fit([block], priors, cuts=CUTS)
    size = np.linalg.norm(block.remaining(first.unknowns), axis=1)
    apart = size > np.maximum(APART * first.scales[0] * block.sigma, LEAST_APART)
    near = np.asarray(_near(glass, glass[apart]))
    left_out = float(near.mean())
    scatter = first.scales[0] * GRAIN
    if scatter > ROUGHEST or left_out > MOST_LEFT_OUT:
        raise ScanError(
            f"{name}: the blank sheet is not plain (it scatters by {100 * scatter:.1f} %, "
            f"{100 * left_out:.0f} % of it had to be left out); use clean white paper without "
            "print, flat on the glass, and scan it again"
        )
    second = fit([replace(block, trusted=~near)], priors, start=first.unknowns, cuts=(0.0, 0.0))
    variance = second.variances(block.columns, block.design[::7])
    return BlankMap(
        terms=terms,
        unknowns=second.unknowns,
        sigma=float(np.sqrt(np.median(variance))),
        left_out=left_out,
    )


def _near(places: FloatArray, bad: FloatArray) -> NDArray[np.bool_]:
    """Which places are bad or a bad one's neighbours."""
    from scipy.spatial import cKDTree

    if len(bad) == 0:
        return np.zeros(len(places), dtype=bool)
    distance, _ = cKDTree(bad).query(places)
    return np.asarray(distance < RIM * CELL)


def _cells(sheet: LevelTile) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Medians of log light over cells of the glass: places, parts, counts."""
    axes = glass_axes(sheet)
    light = np.swapaxes(sheet.light, 0, 1) if axes.turned else sheet.light
    valid = sheet.valid.T if axes.turned else sheet.valid
    valid = valid & np.all(light > 0.02, axis=2) & np.all(np.isfinite(light), axis=2)
    logs = np.where(valid[..., None], np.log(np.maximum(light, 1e-6)), np.nan)
    if not valid.any():
        return np.zeros((0, 2)), np.zeros((0, 3)), np.zeros(0)
    step = max(1, round(CELL / abs(float(axes.lamp[1] - axes.lamp[0]))))
    blocks, count = _blocked(logs, step), _blocked(valid[..., None].astype(float), step).sum(-1)
    enough = count[..., 0] >= FILLED * step * step
    middle = np.nanmedian(blocks[enough], axis=2) if enough.any() else np.zeros((0, 3))
    rows, columns = np.nonzero(enough)
    centre = (step - 1) / 2
    lamp = np.interp(columns * step + centre, np.arange(len(axes.lamp)), axes.lamp)
    way = np.interp(rows * step + centre, np.arange(len(axes.carriage)), axes.carriage)
    return np.column_stack([lamp, way]), middle @ PARTS_FROM_RGB.T, count[..., 0][enough]


def _blocked(values: FloatArray, step: int) -> FloatArray:
    """Cut (h, w, c) into whole cells: (h // step, w // step, c, step * step)."""
    rows, columns = (n // step for n in values.shape[:2])
    cut = values[: rows * step, : columns * step].reshape(rows, step, columns, step, -1)
    return cut.transpose(0, 2, 4, 1, 3).reshape(rows, columns, values.shape[2], step * step)
