"""Levelling in a merge: overlaps, strips and the blank sheet brought together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.spaces import RGBSpace
from colormatch.fitting.applying import correction
from colormatch.fitting.problem import Solution
from colormatch.job.fit import FittedTile
from colormatch.job.merge_tiles import MergeTile, grid_from_small, small_light
from colormatch.job.overviews import MM_PER_INCH
from colormatch.job.tiles import Opened, surroundings
from colormatch.levelling.anchoring import strip_anchors
from colormatch.levelling.applying import gain_fields
from colormatch.levelling.blank import BlankMap, blank_map
from colormatch.levelling.geometry import glass_map
from colormatch.levelling.judging import level_report
from colormatch.levelling.measuring import measure
from colormatch.levelling.records import Anchors, LevelReport, LevelTile, TileGain
from colormatch.levelling.solving import solve
from colormatch.model import FloatArray
from colormatch.placing.records import Placement

LEVEL_MM = 1.4
"""Pixel of the pictures that are levelled."""
DARKEST_ANCHOR = 0.05
"""Reference Y below which a grey tells little about light."""
FEWEST_ANCHORS = 4
PAINTED = 0.98
"""Share of a levelling pixel that must show the painting."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Greys:
    """A strip's bright greys.

    Attributes
    ----------
    points : ndarray of shape (N, 2)
        Patch centres, scan pixels.
    light, wanted : ndarray of shape (N, 3)
        As corrected, and as they should be, linear light of the output.
    """

    points: FloatArray
    light: FloatArray
    wanted: FloatArray

    @property
    def residual(self) -> FloatArray:
        """Logarithm of the light over what it should be, (N, 3)."""
        result: FloatArray = np.log(self.light / self.wanted)
        return result


@dataclass(frozen=True, kw_only=True, eq=False)
class Levelled:
    """Gain fields per tile, on a grid of ``steps`` scan pixels, and the report.

    ``painted`` tells, on those grids, where each tile shows the painting.
    """

    gains: tuple[TileGain, ...]
    steps: tuple[float, ...]
    painted: tuple[NDArray[np.bool_], ...]
    report: LevelReport


def level(
    tiles: Sequence[MergeTile],
    placement: Placement,
    space: RGBSpace,
    blank: BlankMap | None = None,
) -> Levelled:
    """Solve the light of all tiles."""
    greys = shared_misses([_greys(tile, space) for tile in tiles], [_fit_of(t) for t in tiles])
    given = [_level_tile(tile, k, placement, greys[k]) for k, tile in enumerate(tiles)]
    level_tiles = [one for one, _ in given]
    pairs = measure(level_tiles)
    levels = solve(level_tiles, pairs, blank=blank)
    gains = gain_fields(levels, level_tiles)
    report = level_report(levels, level_tiles, pairs, gains, space.xyz_from_rgb)
    return Levelled(
        gains=gains,
        steps=tuple(step for _, step in given),
        painted=tuple(tile.valid for tile in level_tiles),
        report=report,
    )


def read_blank(opened: Opened, lender: FittedTile, ppi: float, space: RGBSpace) -> BlankMap:
    """Fit the light of the glass to a scan of plain white paper."""
    solution = lender.choice.solution
    plain = Solution(
        curve=solution.curve,
        xyz_from_rgb=solution.xyz_from_rgb,
        scatter=np.zeros_like(solution.scatter),
        offset=solution.offset,
        gains=np.ones((1, 3)),
        fall_off=np.zeros((1, 2)),
        vector=solution.vector,
    )
    mm = MM_PER_INCH / ppi
    prepared = correction(
        plain,
        0,
        surroundings(opened, mm),
        np.zeros(3),
        bits=opened.scan.bits,
        rgb_from_xyz=space.rgb_from_xyz,
        colour_map=lender.colour_map,
    )
    light, times = _reduced(small_light(opened, prepared), opened.step * mm)
    pixel = opened.step * times * mm
    return blank_map(
        LevelTile(
            name=str(opened.scan.path),
            light=light,
            valid=np.ones(light.shape[:2], dtype=bool),
            mm_from_px=glass_map(pixel, light.shape[:2]),
            scanner_mm_from_px=glass_map(pixel, light.shape[:2]),
        )
    )


def _level_tile(
    tile: MergeTile, index: int, placement: Placement, greys: Greys | None
) -> tuple[LevelTile, float]:
    mm = tile.opened.step * MM_PER_INCH / float(np.mean(tile.ppi))
    light, times = _reduced(tile.small_light(), mm)
    step = float(tile.opened.step * times)
    painted, _ = _reduced(tile.mask.astype(np.float32)[..., None], mm)
    pose = placement.poses[index]

    def mm_from_px(points: FloatArray) -> FloatArray:
        return pose.painting_from_scan(points * step + (step - 1) / 2)

    lit = LevelTile(
        name=tile.name,
        light=light,
        valid=painted[..., 0] > PAINTED,
        mm_from_px=mm_from_px,
        scanner_mm_from_px=glass_map(mm * times, light.shape[:2]),
        anchors=None if greys is None else _anchors(greys, step),
        lamp=_lamp(tile, light.shape[:2], step),
    )
    return lit, step


def _reduced(picture: FloatArray, mm: float) -> tuple[NDArray[np.float32], int]:
    """Block means of about `LEVEL_MM`, and how many pixels a block is wide."""
    import cv2

    times = max(1, round(LEVEL_MM / mm))
    rows, columns = (n // times for n in picture.shape[:2])
    cut = np.ascontiguousarray(picture[: rows * times, : columns * times], dtype=np.float32)
    small = np.asarray(cv2.resize(cut, (columns, rows), interpolation=cv2.INTER_AREA))
    return small.reshape(rows, columns, -1).astype(np.float32), times


def _lamp(tile: MergeTile, shape: tuple[int, ...], step: float) -> FloatArray:
    """Fall-off that was divided out, on the levelling grid."""
    import cv2

    lamp = cv2.warpAffine(
        tile.correction.lamp,
        grid_from_small(step, tile.correction.step),
        (shape[1], shape[0]),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(lamp, dtype=np.float64)


def _greys(tile: MergeTile, space: RGBSpace) -> Greys | None:
    """Give the strip's bright greys in the output's light."""
    if tile.fitted is None:
        return None
    readings, judgement = tile.fitted.tile.readings, tile.fitted.judgement
    grey = readings.neutral & (readings.xyz[:, 1] > DARKEST_ANCHOR)
    if grey.sum() < FEWEST_ANCHORS:
        return None
    return Greys(
        points=readings.points[grey],
        light=np.maximum(judgement.predicted[grey] @ space.rgb_from_xyz.T, 1e-4),
        wanted=readings.xyz[grey] @ space.rgb_from_xyz.T,
    )


def _fit_of(tile: MergeTile) -> int:
    """Tell tiles that were fitted together."""
    return 0 if tile.fitted is None else id(tile.fitted.choice)


def shared_misses(greys: Sequence[Greys | None], fits: Sequence[int]) -> list[Greys | None]:
    """Add to what greys should be the tint that their ink has in all tiles of one fit.

    The fit is right on the paper and on paint; the ink of printed greys it misses, in all
    tiles alike. That is no light, and levelling would tint the painting by it.
    """
    tints: dict[int, FloatArray] = {}
    for fit in set(fits):
        mine = [g for g, own in zip(greys, fits, strict=True) if g is not None and own == fit]
        if mine:
            tints[fit] = np.mean([g.residual.mean(axis=0) for g in mine], axis=0)
    return [
        None if g is None else replace(g, wanted=g.wanted * np.exp(tints[fit]))
        for g, fit in zip(greys, fits, strict=True)
    ]


def _anchors(greys: Greys, step: float) -> Anchors:
    """Give what the greys say about the light where they lie."""
    return strip_anchors((greys.points - (step - 1) / 2) / step, greys.light, greys.wanted)
