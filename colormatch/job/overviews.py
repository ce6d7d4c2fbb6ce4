"""A tile's overview as the placing stage is shown it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from colormatch.fitting.problem import Solution
from colormatch.job.fit import FittedTile
from colormatch.job.tiles import measured_ppi, stated_or_measured_ppi
from colormatch.model import FloatArray, Scan, StripReading
from colormatch.placing.masks import painting_mask
from colormatch.placing.tiles import LightTable, Tile

MM_PER_INCH = 25.4
PPI_BELIEVED = 0.01
"""Share by which stated and measured resolution may differ for the stated one to be kept."""


def overview_tile(fitted: FittedTile) -> Tile:
    """Show a tile to the placing stage, by its overview."""
    tile = fitted.tile
    scan, opened = tile.scan, tile.opened
    ppi = believed_ppi(scan, tile.strips)
    mm = opened.step * MM_PER_INCH / float(np.mean(ppi))
    corners = tuple(strip_corners(strip, opened.step) for strip in tile.strips)
    return Tile(
        name=str(scan.path),
        width=scan.width,
        height=scan.height,
        ppi=ppi,
        overview=opened.small,
        step=opened.step,
        read=scan.read,
        mask=painting_mask(opened.small, mm, corners),
        linear=luminance(fitted.choice.solution),
    )


def believed_ppi(scan: Scan, strips: Sequence[StripReading]) -> tuple[float, float]:
    """Resolution as the file states it, unless the strip's millimetres contradict."""
    seen = measured_ppi(strips[0])
    if scan.ppi is None:
        return stated_or_measured_ppi(scan, strips[0])
    off = max(abs(a / b - 1) for a, b in zip(seen, scan.ppi, strict=True))
    return scan.ppi if off < PPI_BELIEVED else seen


def strip_corners(strip: StripReading, step: int) -> FloatArray:
    """Corners (4, 2) of a strip in pixels of the small picture."""
    width, height = strip.layout.width, strip.layout.height
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=float)
    scan = corners @ strip.px_from_mm[:, :2].T + strip.px_from_mm[:, 2]
    return np.asarray((scan - (step - 1) / 2) / step)


def luminance(solution: Solution) -> LightTable:
    """Give the function from encoded RGB to linear luminance, by table."""
    levels = np.linspace(0.0, 1.0, 65536)
    table = solution.curve.linear(levels[:, None].repeat(3, axis=1))
    return LightTable(table, solution.xyz_from_rgb[1])
