"""What the page draws of a merge: maps, differences, fields, pieces of its seams."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.transfer import encode_srgb
from colormatch.job.merge_light import Levelled
from colormatch.job.merge_seams import Joined
from colormatch.job.overviews import MM_PER_INCH
from colormatch.levelling.measuring import SPACING
from colormatch.placing.records import PairFit, Placement
from colormatch.views import CropView, FieldView, MergeView, Picture, ResidualView

MAP_SIDE = 1000
"""Longer side of a map, pixels."""
GREY_SIDE = 420
"""Longer side of the picture that others are laid on, pixels."""
PALE = (0.55, 0.4)
"""Darkest grey of that picture, and how much of the scale it keeps, encoded."""
CELL_MM = 2.0
"""Pixel of the maps of differences: half the distance of the places compared."""
COUNTED = 0.5
"""Weight above which a compared place counts, as in the placing's own figures."""
ARROWS = 150
"""Places drawn per pair; more would hide one another."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Maps:
    """The joined picture in small, linear light: its seams, levelling if wanted, grey (h, w)."""

    seams: NDArray[np.float32]
    levelling: NDArray[np.float32] | None
    grey: NDArray[np.float32]


def merge_view(
    maps: Maps,
    placement: Placement,
    levelled: Levelled,
    joined: Joined,
    crops: tuple[CropView, ...],
    shades: Sequence[tuple[float, float, float]],
) -> MergeView:
    """Reduce the maps and lay out what else the page draws.

    Parameters
    ----------
    maps : Maps
    placement, levelled, joined
        What each stage found.
    crops : tuple of CropView
    shades : sequence
        Tints of the tiles in turn.
    """
    before, after = difference_maps(placement, levelled)
    return MergeView(
        seams=reduced(maps.seams, MAP_SIDE),
        grey=pale(reduced(maps.grey, GREY_SIDE)[..., None].repeat(3, axis=2)),
        shades={name: shades[k % len(shades)] for k, name in enumerate(placement.names)},
        size=(float(placement.width), float(placement.height)),
        residuals=tuple(residual_view(fit, placement.names) for fit in placement.pairs),
        before=before,
        after=after,
        fields=tuple(field_view(name, k, levelled) for k, name in enumerate(placement.names)),
        shaded=joined.avoided.shaded,
        soft=joined.avoided.soft,
        pixel=MM_PER_INCH / placement.ppi,
        crops=crops,
        seams_left=len(joined.seams.seams) - len({crop.tiles for crop in crops}),
    )


def reduced(light: NDArray[np.float32], side: int) -> NDArray[np.uint8]:
    """Reduce a map of linear light to a longer side, and encode it; it is never enlarged."""
    import cv2

    scale = min(side / max(light.shape[:2]), 1.0)
    rows, columns = (max(1, round(n * scale)) for n in light.shape[:2])
    small = np.asarray(cv2.resize(light, (columns, rows), interpolation=cv2.INTER_AREA))
    return np.asarray(np.round(encode_srgb(np.clip(small, 0, 1)) * 255), dtype=np.uint8)


def pale(picture: Picture) -> Picture:
    """Make a picture pale, so that tints on it stay apart."""
    lifted = (PALE[0] + PALE[1] * (picture / 255.0)) * 255
    return np.asarray(np.round(lifted), dtype=np.uint8)


def residual_view(fit: PairFit, names: Sequence[str]) -> ResidualView:
    """Give the places of one pair that count, evenly thinned."""
    counted = np.flatnonzero(fit.weights > COUNTED)
    chosen = counted[:: max(1, -(-len(counted) // ARROWS))]
    return ResidualView(
        tiles=(names[fit.first], names[fit.second]),
        places=fit.places[chosen],
        gaps=fit.gaps[chosen],
    )


def difference_maps(
    placement: Placement, levelled: Levelled
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Lay the differences of all pairs on the picture, before and after levelling."""
    from scipy.spatial import cKDTree

    cell = CELL_MM * placement.ppi / MM_PER_INCH
    shape = (max(1, round(placement.height / cell)), max(1, round(placement.width / cell)))
    across, down = placement.width / shape[1], placement.height / shape[0]
    x, y = (np.arange(shape[1]) + 0.5) * across, (np.arange(shape[0]) + 0.5) * down
    centres = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2) - 0.5
    # Half the diagonal of a compared place, and a little for lattices that lie askew.
    reach = 0.75 * SPACING * placement.ppi / MM_PER_INCH
    maps = np.full((2, len(centres)), np.nan, np.float32)
    matrix = placement.canvas_from_mm
    for pair in levelled.report.pairs:
        there = pair.places @ matrix[:, :2].T + matrix[:, 2]
        distance, nearest = cKDTree(there).query(centres, distance_upper_bound=reach)
        near = np.flatnonzero(np.isfinite(distance))
        which = np.asarray(nearest)[near]
        for one, values in zip(maps, (pair.de_before, pair.de_after), strict=True):
            one[near] = np.fmax(one[near], values[which].astype(np.float32))
    return maps[0].reshape(shape), maps[1].reshape(shape)


def field_view(tile: str, index: int, levelled: Levelled) -> FieldView:
    """Give the change of light by levelling all over one tile."""
    percent = ((levelled.gains[index].gain.mean(axis=2) - 1) * 100).astype(np.float32)
    percent[~levelled.painted[index]] = np.nan
    return FieldView(tile=tile, percent=percent)
