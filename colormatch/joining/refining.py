"""Seams at full resolution, and how well the two tiles agree along them."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import delta_e_2000
from colormatch.joining import costs
from colormatch.joining.curves import SPACING, Curve, curves_of
from colormatch.joining.lookup import Lookup, make_lookup, on_grid
from colormatch.joining.paths import best_path, strip_costs
from colormatch.joining.records import BoolArray, Grid, GridTile, Reader
from colormatch.joining.seams import CutElement, LabelMap
from colormatch.joining.strips import OFFSETS, Strip, finite, read_strip
from colormatch.model import FloatArray, Progress, Window, silent

BLEND_STEP = 1.0
"""ΔE2000 below which two tiles may be blended..."""
BLEND_SLIP = 0.3
"""...if they are displaced by fewer canvas pixels than this."""
BESIDE = 12
"""Canvas pixels beside a seam where the tiles must agree, too, to be blended."""
BOX = (5, 9)
"""Places along and across over which light is averaged before ΔE is taken: about a
grid pixel, 0.35 mm at 600 ppi, so that grain does not count."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SeamPath:
    """One curve along which two tiles meet.

    Attributes
    ----------
    points : ndarray of shape (N, 2)
        Canvas pixels (x, y), about `SPACING` apart.
    plus, minus : int
        Tiles on either side; where the seam runs down, plus lies to the right.
    delta_e : ndarray of shape (N,)
        ΔE2000 of the two tiles; NaN off the canvas.
    slip : ndarray of shape (N,)
        Misregistration, canvas pixels.
    blend : ndarray of bool, shape (N,)
        Where the tiles may be blended.
    """

    points: FloatArray
    plus: int
    minus: int
    delta_e: FloatArray
    slip: FloatArray
    blend: BoolArray


@dataclass(frozen=True, kw_only=True)
class Seam:
    """All borders between two tiles, summed up.

    Attributes
    ----------
    tiles : tuple of str
    length : float
        Millimetres on the canvas.
    mean, p95 : float
        ΔE2000 of the two tiles along it.
    blended : float
        Share of the length where they may be blended.
    """

    tiles: tuple[str, str]
    length: float
    mean: float
    p95: float
    blended: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Seams:
    """Which tile every canvas pixel is taken from, in windows.

    Attributes
    ----------
    grid : Grid
    paths : tuple of SeamPath
    seams : tuple of Seam
        One for each pair of tiles that meet, the longest first.
    shares : tuple of float
        Part of the covered canvas taken from each tile.
    cut : tuple of CutElement
    lookup : Lookup
        Behind `labels`.
    agreed : ndarray of bool
        On the grid, where tiles may be blended.
    rim : float
        Part of the canvas, 0 to 1, at its rim, beyond all masks: from the nearest tile.
    """

    grid: Grid
    paths: tuple[SeamPath, ...]
    seams: tuple[Seam, ...]
    shares: tuple[float, ...]
    cut: tuple[CutElement, ...]
    lookup: Lookup
    agreed: BoolArray
    rim: float

    def labels(self, window: Window) -> NDArray[np.uint8]:
        """Give the tile of each pixel of a canvas window.

        Returns
        -------
        ndarray of uint8, shape (height, width)
            `UNCOVERED` where no tile is. The same for a pixel in any window.
        """
        return self.lookup.labels(window)

    def blendable(self, window: Window) -> NDArray[np.bool_]:
        """Give where, in a canvas window, the tiles agree so well that they may be blended."""
        return on_grid(self.grid, self.agreed, window)


def refine(
    grid: Grid,
    tiles: Sequence[GridTile],
    decided: LabelMap,
    read: Reader,
    *,
    xyz_from_rgb: FloatArray,
    progress: Progress = silent,
) -> Seams:
    """Find the best way of each seam at full resolution, near where it was decided.

    Parameters
    ----------
    grid : Grid
    tiles : sequence of GridTile
    decided : LabelMap
    read : callable
        ``read(tile, window)``: linear light, float32 (height, width, 3), matched
        and levelled, on the canvas; NaN where the tile is not. Asked only for
        windows inside the canvas, about 400 pixels across; from two threads.
    xyz_from_rgb : ndarray of shape (3, 3)
        Of that light.
    progress : callable, optional
    """
    curves = curves_of(decided.labels, grid.step)
    found: dict[int, SeamPath] = {}
    refined = [curve.points for curve in curves]
    seams = [k for k, curve in enumerate(curves) if curve.is_seam]
    total = sum(len(curves[k].points) for k in seams)
    done = 0

    def best(k: int) -> SeamPath:
        return _refined(grid, curves[k], read, decided, xyz_from_rgb)

    # Two seams at a time: reading and warping let go of the interpreter.
    # The longest first, so that neither thread is left with one at the end.
    longest = sorted(seams, key=lambda k: -len(curves[k].points))
    with ThreadPoolExecutor(2) as pool:
        for k, path in zip(longest, pool.map(best, longest), strict=True):
            refined[k] = path.points
            found[k] = path
            done += len(curves[k].points)
            progress("seams", done / total)
    paths = [found[k] for k in seams]
    return Seams(
        grid=grid,
        paths=tuple(paths),
        seams=tuple(_summed(grid, tiles, paths)),
        shares=decided.shares,
        cut=decided.cut,
        lookup=make_lookup(grid, tiles, decided, curves, refined),
        agreed=_blend_map(grid, paths),
        rim=decided.rim,
    )


def _refined(
    grid: Grid, curve: Curve, read: Reader, decided: LabelMap, xyz_from_rgb: FloatArray
) -> SeamPath:
    """Move one seam to its best way, and measure it there."""
    strip = read_strip(grid, curve, read)
    curve, strip, cost = _pinned(curve, strip, strip_costs(strip, xyz_from_rgb))
    path = best_path(cost, curve.room)
    points = curve.points + OFFSETS[path][:, None] * curve.normals
    differences = _differences(strip, path, xyz_from_rgb)
    slip = _slips(grid, decided, curve, points)
    with np.errstate(invalid="ignore"):
        blend = (differences < BLEND_STEP).all(axis=1) & (slip < BLEND_SLIP)
    return SeamPath(
        points=points,
        plus=curve.plus,
        minus=curve.minus,
        delta_e=differences[:, 1],
        slip=slip,
        blend=blend,
    )


def _pinned(curve: Curve, strip: Strip, cost: FloatArray) -> tuple[Curve, Strip, FloatArray]:
    """Let a closed curve begin where it is best left as it is."""
    if len(curve.points) < 3 or not np.allclose(curve.points[0], curve.points[-1]):
        return curve, strip, cost
    middle = len(OFFSETS) // 2
    turn = int(np.argmin(cost[:-1, middle]))
    order = np.append(np.roll(np.arange(len(curve.points) - 1), -turn), turn)
    room = curve.room.copy()
    room[order[0]] = 0
    turned = replace(
        curve, points=curve.points[order], normals=curve.normals[order], room=room[order]
    )
    light = strip.light[0][order], strip.light[1][order]
    return turned, Strip(light=light, inside=strip.inside[order]), cost[order]


def _differences(strip: Strip, path: NDArray[np.int64], xyz_from_rgb: FloatArray) -> FloatArray:
    """ΔE2000 beside, on and beside the seam, light averaged over `BOX`; (N, 3)."""
    import cv2

    rows = np.arange(len(path))
    known = strip.inside & finite(strip.light[0] + strip.light[1])
    weight = cv2.blur(known.astype(np.float32), BOX[::-1])
    result = np.full((len(path), 3), np.nan)
    labs = []
    for light in strip.light:
        smooth = cv2.blur(np.where(known[..., None], light, 0).astype(np.float32), BOX[::-1])
        labs.append(smooth / np.maximum(weight, 1e-6)[..., None])
    for k, offset in enumerate((-BESIDE, 0, BESIDE)):
        at = np.clip(path + offset, 0, len(OFFSETS) - 1)
        good = known[rows, at]
        pair = [costs.lab_of(lab[rows, at][good], xyz_from_rgb) for lab in labs]
        if good.any():
            result[good, k] = delta_e_2000(*pair)
    return result


def _slips(grid: Grid, decided: LabelMap, curve: Curve, points: FloatArray) -> FloatArray:
    """Misregistration along a seam."""
    pair = min(curve.plus, curve.minus), max(curve.plus, curve.minus)
    slip = np.asarray(decided.slips.get(pair, 0.0), dtype=float)
    if slip.ndim == 0:
        return np.full(len(points), float(slip))
    at = _cells(grid, points)
    return np.asarray(slip[at[:, 1], at[:, 0]])


def _cells(grid: Grid, points: FloatArray) -> NDArray[np.int64]:
    """Grid pixels (x, y) nearest to canvas points."""
    cells = np.floor((points + 0.5) / grid.step).astype(np.int64)
    return np.clip(cells, 0, [grid.width - 1, grid.height - 1])


def _blend_map(grid: Grid, paths: Sequence[SeamPath]) -> BoolArray:
    """Grid pixels around seams that may be blended, and not near places that may not."""
    import cv2

    good = np.zeros((grid.height, grid.width), dtype=np.uint8)
    bad = good.copy()
    for path in paths:
        cells = _cells(grid, path.points)
        on = np.isfinite(path.delta_e)
        for into, which in ((good, on & path.blend), (bad, on & ~path.blend)):
            into[cells[which, 1], cells[which, 0]] = 1
    size = 2 * max(1, round(OFFSETS[-1] / grid.step)) + 1
    around = np.ones((size, size), np.uint8)
    good, bad = np.asarray(cv2.dilate(good, around)), np.asarray(cv2.dilate(bad, around))
    return np.asarray((good > 0) & (bad == 0))


def _summed(grid: Grid, tiles: Sequence[GridTile], paths: Sequence[SeamPath]) -> list[Seam]:
    """Give the figures of each pair of tiles."""
    pairs = sorted({(min(p.plus, p.minus), max(p.plus, p.minus)) for p in paths})
    seams = []
    for pair in pairs:
        mine = [p for p in paths if {p.plus, p.minus} == set(pair)]
        delta_e = np.concatenate([p.delta_e for p in mine])
        blend = np.concatenate([p.blend for p in mine])
        known = np.isfinite(delta_e)
        if not known.any():
            continue
        seams.append(
            Seam(
                tiles=(tiles[pair[0]].name, tiles[pair[1]].name),
                length=float(known.sum()) * SPACING * grid.canvas_pixel,
                mean=float(delta_e[known].mean()),
                p95=float(np.percentile(delta_e[known], 95)),
                blended=float(blend[known].mean()),
            )
        )
    return sorted(seams, key=lambda seam: -seam.length)
