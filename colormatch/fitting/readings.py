"""What the fit is given: one record per tile, plain arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import metric_roots
from colormatch.fitting.flare import Surroundings
from colormatch.fitting.misses import miss_covariance
from colormatch.model import FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class TileReadings:
    """The strip's patches as one tile reads them, covered ones left out.

    Attributes
    ----------
    name : str
        The tile, as messages call it.
    ids : tuple of str
        Patch names, N of them (several strips: one after the other).
    rgb : ndarray of shape (N, 3)
        Encoded means, 0 to 1.
    noise : ndarray of shape (N,)
        Standard error of the means as a share of the value, 0 to 1.
    xyz : ndarray of shape (N, 3)
        Reference colours, D50, Y of the perfect diffuser 1.
    neutral : ndarray of bool, shape (N,)
        True for greys and paper.
    along : ndarray of shape (N,)
        Place along the strip, -1 at its left end to 1 at its right end.
    points : ndarray of shape (N, 2)
        Patch centres in scan pixels.
    surroundings : Surroundings or None
        The scan in small; None: scattered light is not estimated.
    doubt : ndarray of shape (N,) or None
        Standard uncertainty of the reference colours, ΔE2000; None: all alike.
    """

    name: str
    ids: tuple[str, ...]
    rgb: FloatArray
    noise: FloatArray
    xyz: FloatArray
    neutral: NDArray[np.bool_]
    along: FloatArray
    points: FloatArray
    surroundings: Surroundings | None = None
    doubt: FloatArray | None = None

    @cached_property
    def roots(self) -> FloatArray:
        """The local metric of CIEDE2000 at the reference colours, `metric_roots`."""
        return metric_roots(self.xyz)

    @cached_property
    def missed(self) -> FloatArray:
        """What a matrix is likely to miss on the patches, `miss_covariance`."""
        return miss_covariance(self.xyz, self.neutral, self.roots)


def rows_by_patch(tiles: Sequence[TileReadings]) -> list[list[int]]:
    """Rows of each patch over all tiles, the tiles' rows being one after the other."""
    names = [name for tile in tiles for name in tile.ids]
    rows: dict[str, list[int]] = {}
    for row, name in enumerate(names):
        rows.setdefault(name, []).append(row)
    return list(rows.values())
