"""Where two tiles show the same place in different light."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from colormatch.joining.records import BoolArray, Box, Grid, GridTile, pairs_of
from colormatch.model import FloatArray

LUMINANCE = np.array([0.25, 0.6, 0.15], dtype=np.float32)
"""Weights of the channels: green sees most, and is least noisy."""
LIGHT_FLOOR = 0.006
"""Added to linear light before the logarithm: below it there is mostly noise."""
LOW_PASS = 0.35
"""Sigma in millimetres, 0.8 mm across at half height."""
SIGMAS = 3.0
LEAST_SIGMA = 0.003
"""Of log light: what repeated scans of the same place differ by."""
LEAST_DEPTH = 0.015
"""Of log light; about 0.3 ΔE, below which a shadow is not seen."""
SLIP = 0.05
"""Grid pixels by which tiles may be displaced: at edges of paint that looks like light."""
LEAST_WIDTH = 0.9
"""Millimetres: narrower are the halos of edges where tiles are displaced or blurred."""
LEAST_AREA = 1.5
"""Square millimetres."""
BINS = 8
"""Classes of brightness, each with its own noise."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Dispute:
    """A connected place where two tiles differ.

    Attributes
    ----------
    first, second : int
        Which tiles.
    box : Box
        Where it lies, with a margin.
    mask : ndarray of bool
        The place, of the box's shape.
    difference : ndarray of float32
        Natural log of the first's light over the second's, low-passed;
        0 where not both are valid.
    log_light : tuple of two ndarrays of float32
        Natural log of each tile's light, low-passed.
    both : ndarray of bool
        Where both tiles are valid.
    """

    first: int
    second: int
    box: Box
    mask: BoolArray
    difference: FloatArray
    log_light: tuple[FloatArray, FloatArray]
    both: BoolArray

    @property
    def depth(self) -> float:
        """Typical log difference, first over second."""
        inside = self.difference[self.mask]
        strong = np.abs(inside) >= np.percentile(np.abs(inside), 75)
        return float(np.median(inside[strong]))


def log_light(grid: Grid, tile: GridTile, box: Box) -> FloatArray:
    """Natural log of a tile's light in a box, low-passed over valid pixels.

    Returns
    -------
    ndarray of float32
        Of the box's shape; meaningless far from valid pixels.
    """
    import cv2

    at = box.within(tile.box)
    valid = tile.valid[at].astype(np.float32)
    light = np.where(tile.valid[at], tile.light[at] @ LUMINANCE, 0).astype(np.float32)
    sigma = max(LOW_PASS / grid.pixel, 0.3)
    weight = np.maximum(cv2.GaussianBlur(valid, (0, 0), sigma), 1e-3)
    smooth = cv2.GaussianBlur(light, (0, 0), sigma) / weight
    return np.log(np.maximum(smooth, 0) + np.float32(LIGHT_FLOOR))


def find_disputes(grid: Grid, tiles: Sequence[GridTile], *, slip: float = SLIP) -> list[Dispute]:
    """Find where overlapping tiles differ by more than noise and placing explain.

    Parameters
    ----------
    grid : Grid
    tiles : sequence of GridTile
        Matched and levelled.
    slip : float, optional
        Grid pixels by which they may be displaced.

    Returns
    -------
    list of Dispute
        The largest first.
    """
    found = []
    for i, j, box, both in pairs_of(tiles):
        logs = log_light(grid, tiles[i], box), log_light(grid, tiles[j], box)
        difference = np.where(both, logs[0] - logs[1], 0).astype(np.float32)
        difference[both] -= np.median(difference[both])
        limit = _tolerance(logs, difference, both, slip)
        for sign in (-1, 1):
            for part, mask in _places(grid, both & (sign * difference > limit)):
                found.append(
                    Dispute(
                        first=i,
                        second=j,
                        box=_shifted(part, box),
                        mask=mask,
                        difference=difference[part],
                        log_light=(logs[0][part], logs[1][part]),
                        both=both[part],
                    )
                )
    return sorted(found, key=lambda dispute: -int(dispute.mask.sum()))


def _tolerance(
    logs: tuple[FloatArray, FloatArray], difference: FloatArray, both: BoolArray, slip: float
) -> FloatArray:
    """Log difference up to which two tiles count as alike, per pixel."""
    mean = 0.5 * (logs[0] + logs[1])
    down, across = np.gradient(mean) if min(mean.shape) > 1 else (np.zeros_like(mean),) * 2
    values, light = difference[both], mean[both]
    edges = np.quantile(light, np.linspace(0, 1, BINS + 1))
    which = np.clip(np.searchsorted(edges, light, side="right") - 1, 0, BINS - 1)
    sigma = np.array(
        [
            1.4826 * np.median(np.abs(values[which == k])) if (which == k).any() else 0.0
            for k in range(BINS)
        ]
    )
    middles = 0.5 * (edges[1:] + edges[:-1])
    noise = np.interp(mean, middles, np.maximum(sigma, LEAST_SIGMA))
    slope = np.hypot(down, across)
    return np.asarray(np.maximum(SIGMAS * noise, LEAST_DEPTH) + slip * slope)


def _places(grid: Grid, mask: BoolArray) -> list[tuple[tuple[slice, slice], BoolArray]]:
    """Give connected places large enough to matter, each with a margin around it."""
    import cv2

    side = max(2, round(LEAST_WIDTH / grid.pixel))
    wide = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, np.ones((side, side), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(wide)
    margin = round(4.0 / grid.pixel)
    places = []
    for k in range(1, count):
        if stats[k, cv2.CC_STAT_AREA] * grid.pixel**2 < LEAST_AREA:
            continue
        left, top, width, height = stats[k, :4]
        at = (
            slice(max(top - margin, 0), top + height + margin),
            slice(max(left - margin, 0), left + width + margin),
        )
        places.append((at, labels[at] == k))
    return places


def _shifted(part: tuple[slice, slice], box: Box) -> Box:
    rows, columns = (
        piece.indices(length)[:2] for piece, length in zip(part, box.shape, strict=True)
    )
    return Box(
        top=box.top + rows[0],
        bottom=box.top + rows[1],
        left=box.left + columns[0],
        right=box.left + columns[1],
    )
