"""Where a merge takes a place from another tile because one is not to be trusted there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from colormatch.joining.evidence import SOFTER
from colormatch.joining.records import BoolArray, Grid, GridTile
from colormatch.model import FloatArray

WRONG = 0.5
"""Penalty from which on a tile is not taken where another can be."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Avoided:
    """On the canvas in small: where some tile is shaded or glares, and where it is soft."""

    shaded: BoolArray
    soft: BoolArray


def avoided_places(
    grid: Grid,
    tiles: Sequence[GridTile],
    penalties: Sequence[FloatArray],
    softness: Sequence[FloatArray],
) -> Avoided:
    """Lay what is held against each tile on the canvas in small.

    Parameters
    ----------
    grid : Grid
    tiles : sequence of GridTile
    penalties : sequence of ndarray
        From `colormatch.joining.shadows.judge_shadows`.
    softness : sequence of ndarray
        From `colormatch.joining.evidence.softness_maps`.
    """
    shaded = np.zeros((grid.height, grid.width), dtype=bool)
    soft = shaded.copy()
    for tile, wrong, blurred in zip(tiles, penalties, softness, strict=True):
        shaded[tile.box.slices] |= tile.valid & (wrong > WRONG)
        soft[tile.box.slices] |= tile.valid & (np.nan_to_num(blurred) > SOFTER)
    return Avoided(shaded=shaded, soft=soft)
