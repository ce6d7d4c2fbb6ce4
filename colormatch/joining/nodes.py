"""The overlaps as a graph: pieces of paint, elements and boxes to keep whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.joining import costs
from colormatch.joining.costs import Meeting
from colormatch.joining.cutting import Graph
from colormatch.joining.evidence import LIFTED
from colormatch.joining.records import UNCOVERED, BoolArray, Grid, GridTile
from colormatch.joining.regions import GridRegions
from colormatch.joining.segments import borders, elements, pieces, without_gaps
from colormatch.model import FloatArray

IntArray = NDArray[np.integer]

MOST_NODES = 9000
"""Pieces are made larger where there would be more; a cut takes about half a second."""
LEAST_CELL, MOST_CELL = 4, 16
"""Grid pixels across a piece."""
AROUND = 6.0
"""Millimetres around overlaps within which elements are still followed."""
INNER = 2.0
"""Grid pixels from its edge from which on a tile is taken if another shows the place."""
WRONG = 0.5
"""Penalty above which a place spoils an element it is part of..."""
SPOILT = 0.02
"""...if it is more than this share of it."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Nodes:
    """The picture in nodes.

    Attributes
    ----------
    number : ndarray of int32, shape (height, width)
        Node of each grid pixel; -1 where nothing is shown.
    element : ndarray of int32, shape (height, width)
        Painted element of each grid pixel; -1 away from overlaps.
    may : ndarray of bool, shape (N, tiles)
    whole : ndarray of bool, shape (elements,)
        Which elements can be taken whole, and therefore are.
    """

    number: NDArray[np.int32]
    element: NDArray[np.int32]
    may: BoolArray
    whole: BoolArray


def allowed_tiles(
    grid: Grid, tiles: Sequence[GridTile], regions: GridRegions
) -> NDArray[np.uint64]:
    """Give one bit for each tile that a grid pixel may be taken from.

    A tile's outermost pixels are left out where another tile shows the place.
    """
    shown = np.zeros((grid.height, grid.width), dtype=np.uint64)
    inner = np.zeros_like(shown)
    for k, tile in enumerate(tiles):
        bit = np.uint64(1 << k)
        inside = tile.valid & (tile.edge_distance >= INNER * grid.pixel)
        shown[tile.box.slices] |= np.where(tile.valid, bit, 0).astype(np.uint64)
        inner[tile.box.slices] |= np.where(inside, bit, 0).astype(np.uint64)
    allowed = np.where(inner > 0, inner, shown)
    asked = regions.forced != UNCOVERED
    allowed[asked] = np.left_shift(np.uint64(1), regions.forced[asked].astype(np.uint64))
    # In a box to keep whole any tile that shows it whole may be taken up to its edge.
    grouped = regions.groups > 0
    allowed[grouped] = shown[grouped]
    return allowed


def make_nodes(
    grid: Grid,
    tiles: Sequence[GridTile],
    regions: GridRegions,
    lab: FloatArray,
    wrong: Sequence[BoolArray],
) -> Nodes:
    """Cut the overlaps into nodes.

    Parameters
    ----------
    grid : Grid
    tiles : sequence of GridTile
    regions : GridRegions
    lab : ndarray of shape (height, width, 3)
        From `colormatch.joining.costs.blended_lab`.
    wrong : sequence of ndarray of bool
        For each tile, where it should not be taken; from `wrong_places`.
    """
    allowed = allowed_tiles(grid, tiles, regions)
    several = (allowed & (allowed - np.uint64(1))) > 0
    several &= allowed > 0
    zone = _around(several, AROUND / grid.pixel) & (allowed > 0)
    piece, element = _pieces_and_elements(lab, zone, several)
    free = (element >= 0) & (regions.forced == UNCOVERED) & (regions.groups == 0)
    holders = _holders(tiles, np.where(free, element, -1), allowed, wrong)
    number = _numbered(piece, allowed, several)
    whole = np.asarray(holders.any(axis=1))
    kept = np.zeros_like(free)
    kept[free] = whole[element[free]]
    # Nodes of one kind after another: pieces, elements, boxes.
    first = int(number.max()) + 1
    number[kept] = first + element[kept]
    boxed = (regions.groups > 0) & (allowed > 0)
    number[boxed] = first + len(holders) + regions.groups[boxed]
    number, old = _dense(number)
    may = _may(number, allowed, len(tiles))
    for k, rows in ((first, holders), (first + len(holders), regions.may)):
        mine = (old >= k) & (old < k + len(rows))
        may[mine] = rows[old[mine] - k]
    return Nodes(number=number, element=element, may=may, whole=whole)


def wrong_places(
    softness: Sequence[FloatArray], penalties: Sequence[FloatArray]
) -> list[BoolArray]:
    """Give, for each tile, where it is lifted or known to be wrong."""
    return [
        (np.nan_to_num(soft) > LIFTED) | (penalty > WRONG)
        for soft, penalty in zip(softness, penalties, strict=True)
    ]


def _around(mask: BoolArray, reach: float) -> BoolArray:
    import cv2

    size = 2 * max(1, round(reach)) + 1
    return np.asarray(cv2.dilate(mask.astype(np.uint8), np.ones((size, size), np.uint8))) > 0


def _pieces_and_elements(
    lab: FloatArray, zone: BoolArray, several: BoolArray
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Pieces and elements in the zone; -1 elsewhere."""
    piece = np.full(zone.shape, -1, dtype=np.int32)
    element = piece.copy()
    if not zone.any():
        return piece, element
    cell = int(np.clip(np.sqrt(several.sum() / MOST_NODES), LEAST_CELL, MOST_CELL))
    rows, columns = np.flatnonzero(zone.any(axis=1)), np.flatnonzero(zone.any(axis=0))
    at = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    piece[at] = pieces(lab[at], zone[at], cell)
    joined = elements(lab[at], piece[at])
    element[zone] = joined[piece[zone]]
    return piece, element


def _holders(
    tiles: Sequence[GridTile],
    element: NDArray[np.int32],
    allowed: NDArray[np.uint64],
    wrong: Sequence[BoolArray],
) -> BoolArray:
    """Which tiles show an element whole and well, shape (elements, tiles)."""
    count = int(element.max()) + 1 if element.size else 0
    inside = element >= 0
    numbers = element[inside]
    size = np.bincount(numbers, minlength=count)
    holders = np.zeros((count, len(tiles)), dtype=bool)
    bad = np.zeros(element.shape, dtype=bool)
    for k, tile in enumerate(tiles):
        missing = (allowed[inside] >> np.uint64(k)) & np.uint64(1) == 0
        complete = np.bincount(numbers, missing, minlength=count) == 0
        bad[:] = False
        bad[tile.box.slices] = wrong[k]
        spoilt = np.bincount(numbers, bad[inside], minlength=count) > SPOILT * size
        holders[:, k] = complete & ~spoilt & (size > 0)
    return holders


def _numbered(
    piece: NDArray[np.int32], allowed: NDArray[np.uint64], several: BoolArray
) -> NDArray[np.int32]:
    """One node for each piece and set of tiles, and one for each tile alone."""
    number = np.full(piece.shape, -1, dtype=np.int32)
    alone = (allowed > 0) & ~several
    count, which = _sets(allowed[several])
    number[several] = without_gaps(piece[several].astype(np.int64) * count + which)
    _, lone = _sets(allowed[alone])
    number[alone] = int(number.max(initial=-1)) + 1 + lone
    return number


def _sets(allowed: NDArray[np.uint64]) -> tuple[int, IntArray]:
    """How many sets of tiles there are, and which one each pixel has."""
    sets = np.unique(allowed)
    return len(sets), np.searchsorted(sets, allowed)


def _dense(number: NDArray[np.int32]) -> tuple[NDArray[np.int32], IntArray]:
    """Close gaps in the numbering; also give the old number of each new one."""
    used = np.bincount(number[number >= 0]) > 0
    new = np.cumsum(used).astype(np.int32) - 1
    return np.where(number >= 0, new[number], np.int32(-1)), np.flatnonzero(used)


def _may(number: NDArray[np.int32], allowed: NDArray[np.uint64], count: int) -> BoolArray:
    """Tiles from which all of a node may be taken."""
    inside = number >= 0
    nodes, sets = number[inside], allowed[inside]
    total = int(number.max()) + 1
    may = np.zeros((total, count), dtype=bool)
    for k in range(count):
        missing = (sets >> np.uint64(k)) & np.uint64(1) == 0
        may[:, k] = np.bincount(nodes, missing, minlength=total) == 0
    return may


def make_graph(
    nodes: Nodes,
    tiles: Sequence[GridTile],
    taking: Sequence[FloatArray],
    meetings: Sequence[Meeting],
    lab: FloatArray,
    pixel: float,
) -> Graph:
    """Sum the costs of pixels to those of nodes and of their common borders.

    Parameters
    ----------
    nodes : Nodes
    tiles : sequence of GridTile
    taking : sequence of ndarray
        Cost of each pixel, for each tile; from `colormatch.joining.costs.taking`.
    meetings : sequence of Meeting
    lab : ndarray of shape (height, width, 3)
    pixel : float
        Side of a grid pixel, mm.
    """
    total = len(nodes.may)
    data = np.zeros((total, len(tiles)))
    for k, tile in enumerate(tiles):
        number = nodes.number[tile.box.slices]
        inside = (number >= 0) & tile.valid
        data[:, k] = np.bincount(number[inside], taking[k][inside], minlength=total)
    one, other = borders(nodes.number)
    flat = nodes.number.ravel()
    open_ = nodes.may.sum(axis=1) > 1
    matter = (flat[one] >= 0) & (flat[other] >= 0)
    matter &= open_[flat[one]] | open_[flat[other]]
    one, other = one[matter], other[matter]
    low, high = np.minimum(flat[one], flat[other]), np.maximum(flat[one], flat[other])
    keys, edge = np.unique(low.astype(np.int64) * total + high, return_inverse=True)
    common = _common_cost(nodes, one, other, lab)
    steps = np.zeros((len(tiles), len(tiles), len(keys)))
    worst = np.bincount(edge, common + costs.MOST_STEP, minlength=len(keys)) * pixel
    steps[...] = worst * (1 - np.eye(len(tiles)))[..., None]
    for pair in meetings:
        cost = common + _between(pair, nodes.number.shape, one, other)
        value = np.bincount(edge, cost, minlength=len(keys)) * pixel
        steps[pair.first, pair.second] = steps[pair.second, pair.first] = value
    edges = np.stack([keys // total, keys % total], axis=-1)
    return Graph(may=nodes.may, data=data, edges=edges, steps=steps)


def _common_cost(nodes: Nodes, one: IntArray, other: IntArray, lab: FloatArray) -> FloatArray:
    """Cost per millimetre that does not depend on which tiles meet."""
    element = nodes.element.ravel()
    busy = costs.busyness(lab).ravel()
    busy = np.maximum(busy[one], busy[other])
    same = (element[one] == element[other]) & (element[one] >= 0)
    through = costs.THROUGH + costs.BUSY * busy
    return np.asarray(costs.LENGTH + np.where(same, through, -costs.ALONG_EDGE * busy))


def _between(pair: Meeting, shape: tuple[int, ...], one: IntArray, other: IntArray) -> FloatArray:
    """Step between two tiles at neighbouring pixels; the worst where not both are there."""
    step = np.full(shape, np.nan, dtype=np.float32)
    step[pair.box.slices] = np.where(pair.both, pair.step, np.nan)
    near, far = step.ravel()[one], step.ravel()[other]
    lone = np.fmax(near, far)
    mean = np.where(np.isfinite(near) & np.isfinite(far), 0.5 * (near + far), lone)
    return np.where(np.isfinite(mean), mean, costs.MOST_STEP)
