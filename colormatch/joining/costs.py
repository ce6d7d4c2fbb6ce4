"""What it costs to take a place from a tile, and to let two tiles meet.

One unit is a millimetre of seam along which the two tiles differ by 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.spaces import lab_from_xyz
from colormatch.joining.evidence import LIFTED, SOFTER
from colormatch.joining.records import BoolArray, Box, Grid, GridTile
from colormatch.joining.segments import neighbour_steps, visible_difference
from colormatch.model import FloatArray

SHADOW = 8.0
"""Per square millimetre taken from a tile known to be wrong there."""
SOFT = 1.5
"""Per square millimetre where a tile is just softer than another..."""
LIFTED_SOFT = 6.0
"""...and where it did not touch the glass."""
RIM = 2.0
"""Per square millimetre at a tile's very edge, where it is least trusted..."""
RIM_REACH = 1.5
"""...falling to 1/e at this many millimetres."""
MIDDLE = 0.02
"""Per square millimetre at the edge for not being in the tile's middle..."""
MIDDLE_REACH = 30.0
"""...falling to nothing at this many millimetres."""
LENGTH = 0.3
"""Per millimetre of seam, however well the tiles agree."""
MOST_STEP = 6.0
"""Visible difference above which a seam is as bad as can be."""
SLIP = 1 / 0.3
"""Per millimetre for each canvas pixel of misregistration: 0.3 px count as much as 1 ΔE."""
THROUGH = 2.0
"""Per millimetre of seam through a painted element rather than along its border..."""
BUSY = 3.0
"""...and, in addition, through the busiest texture."""
BUSIEST = 10.0
"""Visible difference between neighbouring places that counts as the busiest texture."""
ALONG_EDGE = 0.2
"""Saved per millimetre along a strong colour edge, which hides a seam."""
AT_ONCE = 16384
"""Pixels turned into CIELAB at a time: what lies between stays in the processor's cache."""


def lab_of(light: FloatArray, xyz_from_rgb: FloatArray) -> NDArray[np.float32]:
    """Give CIELAB of linear light."""
    flat = light.reshape(-1, 3).astype(np.float32, copy=False)
    lab, xyz_from_light = np.empty_like(flat), xyz_from_rgb.T.astype(np.float32)
    for start in range(0, len(flat), AT_ONCE):
        part = slice(start, start + AT_ONCE)
        lab[part] = lab_from_xyz(flat[part] @ xyz_from_light)
    return lab.reshape(light.shape)


def blended_lab(
    grid: Grid,
    tiles: Sequence[GridTile],
    penalties: Sequence[FloatArray],
    xyz_from_rgb: FloatArray,
) -> NDArray[np.float32]:
    """Give CIELAB of all tiles faded into each other, on the whole grid.

    No step shows where one tile ends, so that pieces and elements follow paint.
    """
    light = np.zeros((grid.height, grid.width, 3), dtype=np.float32)
    total = np.zeros((grid.height, grid.width, 1), dtype=np.float32)
    for tile, penalty in zip(tiles, penalties, strict=True):
        weight = np.clip(tile.edge_distance / 10, 1e-3, 1) * (1.001 - penalty)
        weight = np.where(tile.valid, weight, 0).astype(np.float32)
        # What is not valid may be no number at all, which no weight would take away.
        shown = np.where(tile.valid[..., None], tile.light, np.float32(0))
        shown *= weight[..., None]
        light[tile.box.slices] += shown
        total[tile.box.slices] += weight[..., None]
    light /= np.maximum(total, 1e-12)
    return lab_of(light, xyz_from_rgb)


def busyness(lab: FloatArray) -> NDArray[np.float32]:
    """Give how busy the picture is around each pixel, 0 to 1."""
    import cv2

    step = np.zeros(lab.shape[:2], dtype=np.float32)
    across, down = neighbour_steps(lab)
    step[:, 1:] += across
    step[:, :-1] += across
    step[1:] += down
    step[:-1] += down
    smooth = cv2.blur(step, (3, 3)) / 4
    return np.asarray(np.clip(smooth / BUSIEST, 0, 1), dtype=np.float32)


def taking(
    grid: Grid, tile: GridTile, softness: FloatArray, penalty: FloatArray
) -> NDArray[np.float32]:
    """Give the cost of taking each pixel from a tile, of the shape of its arrays."""
    soft = np.nan_to_num(softness)
    cost = np.interp(soft, [SOFTER, SOFTER + 1e-6, LIFTED], [0, SOFT, LIFTED_SOFT])
    cost += SHADOW * penalty
    distance = np.nan_to_num(tile.edge_distance)
    cost += RIM * np.exp(-distance / RIM_REACH)
    cost += MIDDLE * np.clip(1 - distance / MIDDLE_REACH, 0, 1)
    return np.asarray(cost * grid.pixel**2, dtype=np.float32)


@dataclass(frozen=True, kw_only=True, eq=False)
class Meeting:
    """How well two tiles agree, in the box they share.

    Attributes
    ----------
    first, second : int
        Which tiles.
    box : Box
    both : ndarray of bool
        Where both are valid.
    step : ndarray of float32
        Visible difference, saturated, plus misregistration in the same unit.
    slip : ndarray of float32
        Misregistration, canvas pixels.
    """

    first: int
    second: int
    box: Box
    both: BoolArray
    step: FloatArray
    slip: FloatArray


def meeting(
    tiles: Sequence[GridTile],
    pair: tuple[int, int, Box, BoolArray],
    slip: FloatArray | float,
    xyz_from_rgb: FloatArray,
) -> Meeting:
    """Compare two tiles where both are valid.

    Parameters
    ----------
    tiles : sequence of GridTile
    pair : tuple
        From `colormatch.joining.records.pairs_of`.
    slip : ndarray of shape (height, width), or float
        Misregistration in canvas pixels, on the whole grid or everywhere.
    xyz_from_rgb : ndarray of shape (3, 3)
    """
    i, j, box, both = pair
    labs = [lab_of(tiles[k].light[box.within(tiles[k].box)], xyz_from_rgb) for k in (i, j)]
    difference = np.minimum(visible_difference(labs[0], labs[1]), MOST_STEP)
    slips = np.asarray(slip, dtype=np.float32)
    here = np.broadcast_to(slips if slips.ndim == 0 else slips[box.slices], box.shape)
    step = np.where(both, difference + SLIP * np.minimum(here, 1.0), MOST_STEP)
    return Meeting(
        first=i,
        second=j,
        box=box,
        both=both,
        step=step.astype(np.float32),
        slip=np.asarray(here),
    )
