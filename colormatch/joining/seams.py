"""Which tile each place of the picture is taken from, on the grid."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from colormatch.errors import InputError
from colormatch.joining import costs
from colormatch.joining.cutting import solve
from colormatch.joining.nodes import Nodes, make_graph, make_nodes, wrong_places
from colormatch.joining.records import MOST_TILES, UNCOVERED, Grid, GridTile, LabelArray, pairs_of
from colormatch.joining.regions import GridRegions, place_regions
from colormatch.joining.segments import borders
from colormatch.model import FloatArray, Regions

LEAST_CUT = 2.0
"""Millimetres of seam through an element from which on the report names it."""


@dataclass(frozen=True, kw_only=True)
class CutElement:
    """A painted element through which a seam runs.

    Attributes
    ----------
    tiles : tuple of str
        Whose parts it is put together from.
    place : tuple of float
        Middle of the cut, painting millimetres.
    length : float
        Of the cut, millimetres, as decided on the grid: up to a quarter more than
        what is left when the seam is refined.
    size : tuple of float
        Width and height of the element near the overlap, millimetres.
    step : float
        Mean visible difference of the two tiles along the cut.
    """

    tiles: tuple[str, ...]
    place: tuple[float, float]
    length: float
    size: tuple[float, float]
    step: float


@dataclass(frozen=True, kw_only=True, eq=False)
class LabelMap:
    """Which tile is taken where.

    Attributes
    ----------
    labels : ndarray of uint8, shape (height, width)
        Tile of each grid pixel, `UNCOVERED` where none shows it.
    shares : tuple of float
        Part of the covered canvas taken from each tile.
    cut : tuple of CutElement
        The longest cut first.
    regions : GridRegions
        As the user asked.
    slips : dict
        Misregistration by pair of tiles, canvas pixels, as given.
    rim : float
        Share of the grid, 0 to 1, that `colormatch.joining.rims.rim_filled` has filled.
    """

    labels: LabelArray
    shares: tuple[float, ...]
    cut: tuple[CutElement, ...]
    regions: GridRegions
    slips: Mapping[tuple[int, int], FloatArray | float]
    rim: float = 0.0


def label_map(
    grid: Grid,
    tiles: Sequence[GridTile],
    *,
    softness: Sequence[FloatArray],
    penalties: Sequence[FloatArray],
    xyz_from_rgb: FloatArray,
    regions: Regions | None = None,
    slips: Mapping[tuple[int, int], FloatArray | float] | None = None,
) -> LabelMap:
    """Choose for every grid pixel the tile it is taken from.

    Parameters
    ----------
    grid : Grid
    tiles : sequence of GridTile
        Matched and levelled; one or more.
    softness : sequence of ndarray
        For each tile, from `colormatch.joining.evidence.softness_maps`.
    penalties : sequence of ndarray
        For each tile, from `colormatch.joining.shadows.judge_shadows`.
    xyz_from_rgb : ndarray of shape (3, 3)
        Of the tiles' light.
    regions : Regions, optional
        The user's.
    slips : dict, optional
        Misregistration in canvas pixels by pair ``(i, j)``, i < j: one number,
        or an array of the grid's shape. Default: none.

    Raises
    ------
    InputError
        If there are too many tiles, or a region cannot be followed.
    """
    if not 1 <= len(tiles) <= MOST_TILES:
        raise InputError(f"need 1 to {MOST_TILES} scans to join (got {len(tiles)})")
    slips = slips or {}
    placed = place_regions(grid, tiles, regions or Regions())
    # What it costs does not ask what the nodes are: both at a time.
    with ThreadPoolExecutor(1) as pool:
        weighed = pool.submit(_weighed, grid, tiles, softness, penalties, slips, xyz_from_rgb)
        lab = costs.blended_lab(grid, tiles, penalties, xyz_from_rgb)
        nodes = make_nodes(grid, tiles, placed, lab, wrong_places(softness, penalties))
        taking, meetings = weighed.result()
    graph = make_graph(nodes, tiles, taking, meetings, lab, grid.pixel)
    chosen = solve(graph).astype(np.uint8)
    inside = nodes.number >= 0
    labels = np.where(inside, chosen[nodes.number], np.uint8(UNCOVERED)).astype(np.uint8)
    counts = np.bincount(labels[inside], minlength=len(tiles)) / max(inside.sum(), 1)
    return LabelMap(
        labels=labels,
        shares=tuple(float(share) for share in counts),
        cut=tuple(_cut_elements(grid, tiles, nodes, labels, meetings)),
        regions=placed,
        slips=slips,
    )


def _weighed(
    grid: Grid,
    tiles: Sequence[GridTile],
    softness: Sequence[FloatArray],
    penalties: Sequence[FloatArray],
    slips: Mapping[tuple[int, int], FloatArray | float],
    xyz_from_rgb: FloatArray,
) -> tuple[list[FloatArray], list[costs.Meeting]]:
    """Give the cost of taking each place from a tile, and how well each two tiles agree."""
    taking = [costs.taking(grid, *rows) for rows in zip(tiles, softness, penalties, strict=True)]
    meetings = [
        costs.meeting(tiles, pair, slips.get(pair[:2], 0.0), xyz_from_rgb)
        for pair in pairs_of(tiles)
    ]
    return list(taking), meetings


def _cut_elements(
    grid: Grid,
    tiles: Sequence[GridTile],
    nodes: Nodes,
    labels: LabelArray,
    meetings: Sequence[costs.Meeting],
) -> list[CutElement]:
    """List elements through which a seam runs."""
    from scipy.ndimage import find_objects

    one, other = borders(labels)
    element, flat = nodes.element.ravel(), labels.ravel()
    through = (element[one] == element[other]) & (element[one] >= 0)
    through &= (flat[one] != UNCOVERED) & (flat[other] != UNCOVERED)
    one, other = one[through], other[through]
    step = np.full(len(one), np.nan)
    for pair in meetings:
        whole = np.full(labels.shape, np.nan, dtype=np.float32)
        whole[pair.box.slices] = np.where(pair.both, pair.step, np.nan)
        here = np.minimum(flat[one], flat[other]) == pair.first
        here &= np.maximum(flat[one], flat[other]) == pair.second
        step[here] = whole.ravel()[one[here]]
    found = []
    spans = find_objects(nodes.element + 1)
    for number in np.unique(element[one]):
        mine = element[one] == number
        beside = int((other[mine] - one[mine] == 1).sum())
        # Right for a straight cut at any slant; a staircase's sides sum to more.
        length = float(np.hypot(beside, mine.sum() - beside)) * grid.pixel
        if length < LEAST_CUT:
            continue
        rows, columns = np.divmod(one[mine], labels.shape[1])
        x, y = (float(v) for v in grid.mm_of(np.array([columns.mean(), rows.mean()])))
        height, width = (span.stop - span.start for span in spans[number])
        names = np.unique(np.concatenate([flat[one[mine]], flat[other[mine]]]))
        known = step[mine][np.isfinite(step[mine])]
        found.append(
            CutElement(
                tiles=tuple(tiles[k].name for k in names),
                place=(x, y),
                length=length,
                size=(width * grid.pixel, height * grid.pixel),
                step=float(known.mean()) if len(known) else float("nan"),
            )
        )
    return sorted(found, key=lambda cut: -cut.length)
