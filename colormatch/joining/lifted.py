"""Places at which a tile is less sharp than another, told in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from colormatch.joining.evidence import LIFTED, SOFTER
from colormatch.joining.records import BoolArray, Grid, GridTile, Remark
from colormatch.model import FloatArray

LEAST_AREA = 60.0
"""Square millimetres: about two blocks."""
SIGMA = 0.45
"""Canvas pixels of blur that the limit `SOFTER` stands for; the log grows as its square."""


def soft_places(
    grid: Grid, tiles: Sequence[GridTile], softness: Sequence[FloatArray]
) -> list[Remark]:
    """Tell where tiles are softer, or did not touch the glass.

    Parameters
    ----------
    grid : Grid
    tiles : sequence of GridTile
    softness : sequence of ndarray
        From `colormatch.joining.evidence.softness_maps`.

    Returns
    -------
    list of Remark
        Of kind ``"softer"`` or ``"lifted"``, tile by tile, the largest first.
    """
    import cv2

    remarks = []
    for tile, soft in zip(tiles, softness, strict=True):
        worse = (np.nan_to_num(soft) > SOFTER).astype(np.uint8)
        count, labels = cv2.connectedComponents(worse)
        places = [labels == k for k in range(1, count)]
        places = [p for p in places if p.sum() * grid.pixel**2 >= LEAST_AREA]
        places.sort(key=lambda place: -int(place.sum()))
        remarks += [_remark(grid, tile, soft, place) for place in places]
    return remarks


def _remark(grid: Grid, tile: GridTile, soft: FloatArray, place: BoolArray) -> Remark:
    rows, columns = np.nonzero(place)
    middle = np.array([columns.mean() + tile.column, rows.mean() + tile.row])
    x, y = (float(v) for v in grid.mm_of(middle))
    size = (float(np.ptp(columns) + 1) * grid.pixel, float(np.ptp(rows) + 1) * grid.pixel)
    log = float(np.median(soft[place]))
    blur = SIGMA * float(np.sqrt(log / SOFTER))
    kind = "lifted" if log > LIFTED else "softer"
    what = "did not touch the glass" if kind == "lifted" else "is less sharp than another scan"
    return Remark(
        kind=kind,
        tiles=(tile.name,),
        place=(x, y),
        size=size,
        depth=blur,
        reason="",
        text=(
            f"around {x:.0f}, {y:.0f} mm ({size[0]:.0f} x {size[1]:.0f} mm) {tile.name} {what} "
            f"(blur about {blur:.1f} px): not taken there where another scan can be"
        ),
    )
