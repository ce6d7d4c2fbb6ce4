"""Tiles of a merge: matched if they show a strip, borrowed from the others if not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.spaces import RGBSpace
from colormatch.errors import TargetError
from colormatch.files.parallel import in_order
from colormatch.fitting.applying import Correction, correction
from colormatch.fitting.problem import Solution
from colormatch.job.checking import Measured
from colormatch.job.fit import FittedTile
from colormatch.job.overviews import MM_PER_INCH, believed_ppi, luminance, strip_corners
from colormatch.job.tiles import (
    Opened,
    mm_per_px,
    surroundings,
)
from colormatch.model import FloatArray, Scan
from colormatch.placing.masks import background_colour, painting_mask
from colormatch.placing.tiles import Tile as PlacingTile


@dataclass(frozen=True, kw_only=True, eq=False)
class MergeTile:
    """One tile with all that later stages ask of it.

    Attributes
    ----------
    name : str
        File name, or the whole path where two files share a name.
    opened : Opened
        Scan and small picture.
    fitted : FittedTile or None
        None without a strip.
    correction : Correction
        To linear light of the output space.
    mask : ndarray of bool
        Where the small picture shows the painting.
    ppi : tuple of float
        Along x and y.
    """

    name: str
    opened: Opened
    fitted: FittedTile | None
    correction: Correction
    mask: NDArray[np.bool_]
    ppi: tuple[float, float]

    @property
    def scan(self) -> Scan:
        """The scan itself."""
        return self.opened.scan

    def small_light(self) -> NDArray[np.float32]:
        """Linear light of the output space on the small picture's grid."""
        return small_light(self.opened, self.correction)


def merge_tiles(
    paths: Sequence[Path], measured: Measured, space: RGBSpace
) -> tuple[MergeTile, ...]:
    """Prepare all tiles in the order given.

    Raises
    ------
    TargetError
        If no tile shows a strip.
    """
    if not measured.fitted:
        raise TargetError(
            "no scan shows a strip that can be read: at least one must, for the others to take "
            f"their colour from; the first one: {next(iter(measured.failures.values()), '')}"
        )
    with_strip = {f.tile.readings.name: f for f in measured.fitted}
    without = {str(opened.scan.path): opened for opened in measured.stripless}
    lender = _lender(measured.fitted)

    def prepared(path: Path, name: str) -> MergeTile:
        if str(path) in with_strip:
            return _matched(name, with_strip[str(path)], space)
        return _borrowing(name, without[str(path)], lender, space)

    named = zip(paths, unique_names(paths), strict=True)
    return tuple(in_order(lambda one: prepared(*one), named))


def unique_names(paths: Sequence[Path]) -> list[str]:
    """File names, or whole paths where two are alike."""
    names = [path.name for path in paths]
    return [n if names.count(n) == 1 else str(p) for n, p in zip(names, paths, strict=True)]


def _lender(fitted: Sequence[FittedTile]) -> FittedTile:
    """Choose a tile of the largest group of equal settings."""
    return max(fitted, key=lambda one: len(one.group))


def _matched(name: str, fitted: FittedTile, space: RGBSpace) -> MergeTile:
    tile = fitted.tile
    prepared = correction(
        fitted.choice.solution,
        fitted.index,
        tile.surroundings,
        tile.along_from_px,
        bits=tile.scan.bits,
        rgb_from_xyz=space.rgb_from_xyz,
        colour_map=fitted.colour_map,
    )
    ppi = believed_ppi(tile.scan, tile.strips)
    corners = tuple(strip_corners(strip, tile.opened.step) for strip in tile.strips)
    return _tile(name, tile.opened, fitted, prepared, (ppi, corners))


def _borrowing(name: str, opened: Opened, lender: FittedTile, space: RGBSpace) -> MergeTile:
    """Take curve, scatter and matrix from a tile that shows a strip, but no fall-off."""
    lent = believed_ppi(lender.tile.scan, lender.tile.strips)
    solution, ppi = lender.choice.solution, opened.scan.ppi or lent
    nothing = Solution(
        curve=solution.curve,
        xyz_from_rgb=solution.xyz_from_rgb,
        scatter=solution.scatter,
        offset=solution.offset,
        gains=solution.gains[lender.index : lender.index + 1],
        fall_off=np.zeros((1, 2)),
        vector=solution.vector,
    )
    prepared = correction(
        nothing,
        0,
        surroundings(opened, MM_PER_INCH / float(np.mean(ppi))),
        np.zeros(3),
        bits=opened.scan.bits,
        rgb_from_xyz=space.rgb_from_xyz,
        colour_map=lender.colour_map,
    )
    strips = lender.tile.strips
    background = background_colour(
        lender.tile.opened.small,
        lender.tile.opened.step * mm_per_px(strips[0]),
        tuple(strip_corners(strip, lender.tile.opened.step) for strip in strips),
    )
    return _tile(name, opened, None, prepared, (ppi, ()), background)


def _tile(
    name: str,
    opened: Opened,
    fitted: FittedTile | None,
    prepared: Correction,
    seen: tuple[tuple[float, float], tuple[FloatArray, ...]],
    background: FloatArray | None = None,
) -> MergeTile:
    ppi, corners = seen
    mm = opened.step * MM_PER_INCH / float(np.mean(ppi))
    return MergeTile(
        name=name,
        opened=opened,
        fitted=fitted,
        correction=prepared,
        mask=painting_mask(opened.small, mm, corners, background),
        ppi=ppi,
    )


def placing_tile(tile: MergeTile, solution: Solution) -> PlacingTile:
    """Show a tile to the placing stage."""
    scan, opened = tile.scan, tile.opened
    strip = None
    if tile.fitted is not None:
        reading = tile.fitted.tile.strips[0]
        middle = np.array([reading.layout.width, reading.layout.height]) / 2
        strip = reading.px_from_mm[:, :2] @ middle + reading.px_from_mm[:, 2]
    return PlacingTile(
        name=tile.name,
        width=scan.width,
        height=scan.height,
        ppi=tile.ppi,
        overview=opened.small,
        step=opened.step,
        read=scan.read,
        mask=tile.mask,
        linear=luminance(solution),
        strip=strip,
    )


def small_light(opened: Opened, prepared: Correction) -> NDArray[np.float32]:
    """Correct the small picture: linear light of the output space."""
    import cv2

    small = opened.small
    top = len(prepared.decode) - 1
    place = np.clip(small * top + 0.5, 0, top).astype(np.int32)
    light = np.stack([prepared.decode[:, c][place[..., c]] for c in range(3)], axis=-1)
    size = (small.shape[1], small.shape[0])
    matrix = grid_from_small(opened.step, prepared.step)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    for grid, use in ((prepared.scattered, np.subtract), (1.0 / prepared.lamp, np.multiply)):
        there = cv2.warpAffine(
            np.ascontiguousarray(grid, dtype=np.float32),
            matrix,
            size,
            flags=flags,
            borderMode=cv2.BORDER_REPLICATE,
        )
        there = np.asarray(there)
        use(light, there if there.ndim == 3 else there[..., None], out=light)
    return prepared.coloured(light.astype(np.float32))


def grid_from_small(step: float, grid_step: float) -> FloatArray:
    """Map from small-picture pixels to pixels of a coarser grid, both block means."""
    scale = step / grid_step
    shift = ((step - 1) / 2 - (grid_step - 1) / 2) / grid_step
    return np.array([[scale, 0.0, shift], [0.0, scale, shift]])
