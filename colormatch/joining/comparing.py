"""Two overviews of the same paint: where one is softer, where one has a shadow.

A quick look before anything is placed exactly or levelled: both overviews are
brought onto the first one's pixels, the second's light is fitted to the first's
with a slow change over the overlap, and what then differs in a narrow place, or
is less sharp, is told. Reading no scan, it misses blurs below about 0.1 mm.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from colormatch.joining.energies import compare_blocks
from colormatch.joining.records import BoolArray, Grid, GridTile, Remark
from colormatch.joining.shadows import judge_shadows
from colormatch.model import FloatArray

BANDS = ((1 / 8, 1 / 4), (1 / 4, 0.4))
"""Cycles per overview pixel: noise is small in block means, so that finer bands tell."""
BLOCK_MM = 8.0
"""Side of a block in which sharpness is compared."""
LEAST_BLOCK = 16
"""Pixels."""
CERTAIN = 0.3
"""Standard deviation of a log ratio up to which a block is measurable."""
PER_SIGMA = 2.9
"""Log of the energy ratio, mean of both bands, for a blur of one overview pixel: the mean of
``(2 pi f)^2`` over them."""
SOFT_MM = 0.10
"""Blur from which on a place is told, standard deviation: over one pixel of a print at
300 ppi, 0.085 mm."""
LEAST_CELLS = 4
"""Blocks side by side, half overlapping, that must be softer."""
SPECKS = 8.0
"""Deviations by which a pixel differs from the other tile's where dust or a hair lies."""
SLIP = 0.2
"""Pixels by which the overviews may still be displaced."""
DARKEST = 0.004
"""Light below which ratios are noise."""
MOST_SAMPLES = 20000
"""Places at which the light is fitted."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Overview:
    """A tile's overview.

    Attributes
    ----------
    name : str
    light : ndarray of float32, shape (H, W)
        Linear luminance.
    valid : ndarray of bool, shape (H, W)
        Where it shows the painting.
    """

    name: str
    light: FloatArray
    valid: BoolArray


def compare_overviews(
    first: Overview,
    second: Overview,
    second_from_first: Callable[[FloatArray], FloatArray],
    mm: float,
) -> list[Remark]:
    """Tell shadows and soft places in the overlap of two tiles.

    Parameters
    ----------
    first, second : Overview
        Of the same resolution.
    second_from_first : callable
        Overview pixels (N, 2) of the first to those of the second, right to a
        tenth of a pixel.
    mm : float
        Side of an overview pixel, mm.

    Returns
    -------
    list of Remark
        As `colormatch.joining.shadows` and ``"softer"`` places; places are mm from the top
        left corner of the first scan.
    """
    laid = _laid(first, second, second_from_first, mm)
    if laid is None:
        return []
    grid, tiles, corner = laid
    soft, softness = _softness(grid, tiles)
    shadows = judge_shadows(grid, tiles, softness, slip=SLIP).remarks
    return [_moved(remark, corner) for remark in (*shadows, *soft)]


def _moved(remark: Remark, corner: FloatArray) -> Remark:
    x, y = (float(v) for v in corner)
    place, box = remark.place, remark.box
    return replace(
        remark,
        place=(place[0] + x, place[1] + y),
        box=(box[0] + x, box[1] + y, box[2], box[3]),
    )


def _laid(
    first: Overview,
    second: Overview,
    second_from_first: Callable[[FloatArray], FloatArray],
    mm: float,
) -> tuple[Grid, tuple[GridTile, GridTile], FloatArray] | None:
    """Bring both onto a grid that holds the overlap, the second's light fitted."""
    import cv2

    height, width = first.light.shape
    points = np.stack(np.meshgrid(np.arange(width), np.arange(height)), axis=-1).astype(float)
    at = second_from_first(points.reshape(-1, 2)).reshape(points.shape).astype(np.float32)
    shown = cv2.remap(second.valid.astype(np.float32), at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    valid = np.asarray(shown) > 0.999
    rows, columns = np.nonzero(valid & first.valid)
    if len(rows) < LEAST_BLOCK**2:
        return None
    part = np.s_[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
    # Lanczos, because bilinear sampling would blur the second alone.
    ours, at, both = first.light[part], at[part], valid[part] & first.valid[part]
    there = cv2.remap(second.light, at[..., 0], at[..., 1], cv2.INTER_LANCZOS4)
    fitted = _fitted(np.asarray(there), ours, both)
    matrix = np.array([[mm, 0.0, mm / 2], [0.0, mm, mm / 2]])
    grid = Grid(
        canvas_height=both.shape[0], canvas_width=both.shape[1], step=1, mm_from_canvas=matrix
    )
    corner = np.array([columns.min(), rows.min()]) * mm
    tiles = (
        _grid_tile(first.name, ours, first.valid[part], mm),
        _grid_tile(second.name, fitted, valid[part], mm),
    )
    return grid, tiles, corner


def _terms(points: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """Terms of a plane with a bend along each axis, points (..., 2) as (x, y)."""
    x, y = (2.0 * points[..., k] / max(shape[1 - k], 1) - 1.0 for k in (0, 1))
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _robust(terms: FloatArray, goal: FloatArray) -> FloatArray:
    """Least squares that outliers hardly move (Huber's weights)."""
    weight = np.ones(len(goal))
    solution: FloatArray = np.zeros(terms.shape[1])
    for _ in range(6):
        root = np.sqrt(weight)
        solution = np.linalg.lstsq(terms * root[:, None], goal * root, rcond=None)[0]
        left = np.abs(goal - terms @ solution)
        scale = 1.4826 * float(np.median(left)) + 1e-6
        weight = 1.0 / np.maximum(1.0, left / (1.5 * scale))
    return solution


def _fitted(theirs: FloatArray, ours: FloatArray, both: BoolArray) -> FloatArray:
    """Light times the slow change, quadratic in the place, that brings it nearest to ours."""
    rows, columns = np.indices(both.shape)
    terms = _terms(np.stack([columns, rows], axis=-1), both.shape)
    chosen = both & (theirs > DARKEST) & (ours > DARKEST)
    a, goal = terms[chosen], np.log(ours[chosen] / theirs[chosen])
    step = max(1, len(goal) // MOST_SAMPLES)
    solution = _robust(a[::step], goal[::step])
    return np.asarray(theirs * np.exp(terms @ solution), dtype=np.float32)


def _grid_tile(name: str, light: FloatArray, valid: BoolArray, mm: float) -> GridTile:
    import cv2

    distance = cv2.distanceTransform(np.pad(valid, 1).astype(np.uint8), cv2.DIST_L2, 5)
    colour = np.repeat(np.asarray(light, np.float32)[..., None], 3, axis=2)
    return GridTile(
        name=name,
        row=0,
        column=0,
        light=colour,
        valid=valid,
        edge_distance=(np.asarray(distance)[1:-1, 1:-1] * mm).astype(np.float32),
    )


def _softness(
    grid: Grid, tiles: Sequence[GridTile]
) -> tuple[list[Remark], tuple[FloatArray, FloatArray]]:
    """Soft places, and by how much each tile is softer, per grid pixel."""
    import cv2

    side = max(LEAST_BLOCK, round(BLOCK_MM / grid.pixel))
    log = _lattice(tiles, side)
    size = (grid.width, grid.height)
    maps: list[FloatArray] = []
    for sign in (-1.0, 1.0):
        softer = np.where(np.isnan(log), np.nan, np.maximum(sign * log, 0.0)).astype(np.float32)
        spread = cv2.resize(softer, size, interpolation=cv2.INTER_NEAREST)
        maps.append(np.asarray(spread, dtype=np.float32))
    limit = PER_SIGMA * (SOFT_MM / grid.pixel) ** 2
    remarks = []
    for tile, sign in zip(tiles, (-1.0, 1.0), strict=True):
        remarks += _soft_places(grid, tile.name, np.nan_to_num(sign * log), limit, side)
    return remarks, (maps[0], maps[1])


def _lattice(tiles: Sequence[GridTile], side: int) -> FloatArray:
    """Log ratio of sharpness, first over second, of half overlapping blocks; NaN: unknown."""
    both = tiles[0].valid & tiles[1].valid
    pitch = side // 2
    rows = range(0, max(both.shape[0] - side, 0) + 1, pitch)
    columns = range(0, max(both.shape[1] - side, 0) + 1, pitch)
    log = np.full((len(rows), len(columns)), np.nan)
    for i, row in enumerate(rows):
        for j, column in enumerate(columns):
            at = np.s_[row : row + side, column : column + side]
            if both[at].shape == (side, side) and both[at].all():
                blocks = _without_dust(*(tile.light[at][..., 0] for tile in tiles))
                value, spread = compare_blocks(*blocks, BANDS)
                log[i, j] = value if spread < CERTAIN else np.nan
    return log


def _without_dust(one: FloatArray, other: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give both tiles their mean where few pixels differ much: dust is texture of neither."""
    import cv2

    difference = one - other
    difference = difference - np.median(difference)
    spread = 1.4826 * float(np.median(np.abs(difference)))
    odd = (np.abs(difference) > SPECKS * spread).astype(np.uint8)
    wide = np.asarray(cv2.dilate(odd, np.ones((3, 3), np.uint8))) > 0
    mean = (one + other) / 2
    return np.where(wide, mean, one), np.where(wide, mean, other)


def _soft_places(
    grid: Grid, name: str, softer: FloatArray, limit: float, side: int
) -> list[Remark]:
    import cv2

    worse = (softer > limit).astype(np.uint8)
    count, labels = cv2.connectedComponents(worse)
    remarks = []
    for k in range(1, count):
        cells = np.argwhere(labels == k)
        if len(cells) < LEAST_CELLS:
            continue
        low, high = cells.min(axis=0) * (side // 2), cells.max(axis=0) * (side // 2) + side
        middle = (low + high) / 2 * grid.pixel
        size = (high - low) * grid.pixel
        blur = float(np.sqrt(np.median(softer[labels == k]) / PER_SIGMA)) * grid.pixel
        remarks.append(
            Remark(
                kind="softer",
                tiles=(name,),
                place=(float(middle[1]), float(middle[0])),
                size=(float(size[1]), float(size[0])),
                depth=blur,
                reason="",
                text=f"{name} is less sharp there, by a blur of about {blur:.2f} mm",
                box=(
                    float(low[1] * grid.pixel),
                    float(low[0] * grid.pixel),
                    float(size[1]),
                    float(size[0]),
                ),
            )
        )
    return remarks
