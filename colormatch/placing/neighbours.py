"""Which tiles lie side by side, from the overviews alone: turns and overlaps, no canvas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray
from colormatch.placing.coarse import Correlator, sketches
from colormatch.placing.overlaps import Overlap, overlap, painted_mm2
from colormatch.placing.pairing import BELIEVED, Pair, checked_in_small
from colormatch.placing.poses import MM_PER_INCH, Pose
from colormatch.placing.tiles import Tile

MOST_TRIED = 4
"""Tiles before it, nearest in order first, that a tile is compared with."""
ROOMY_MM = 27.0
"""An overlap narrower than this is looked for with other tiles too: it may be a corner."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class Beside:
    """Two tiles that show the same paint.

    Attributes
    ----------
    first, second : int
        Which tiles.
    turns : int
        Quarter turns clockwise, 0 to 3, by which the second's painting must be
        turned to lie as the first's.
    pose : Pose
        Of the second, in the frame where the first rests; from
        `placed_neighbours`, on the painting.
    width : float
        Of the overlap: side of the largest square inside, mm.
    places : tuple of two (x, y, width, height)
        The overlap's upright box in the first and in the second scan, mm from
        their top left corners.
    sure : bool
        Whether blocks of the overviews agree on the pose; if not, it is right to
        about 2 mm only.
    """

    first: int
    second: int
    turns: int
    pose: Pose
    width: float
    places: tuple[Box, Box]
    sure: bool


def neighbours(tiles: tuple[Tile, ...]) -> list[Beside]:
    """Find for every tile one that it overlaps, and the widest where that is narrow.

    Parameters
    ----------
    tiles : tuple of Tile
        In the order they were scanned; their `read` is not used.

    Returns
    -------
    list of Beside
        None for tiles that share no painting with the others; the effort for
        each tile is bounded, so that such tiles cost no more than others.
    """
    painted = [k for k, tile in enumerate(tiles) if painted_mm2(tile) > 0]
    if len(painted) < 2:
        return []
    look = _Look(tuple(tiles[k] for k in painted))
    found: list[Pair] = []
    for tile in range(1, len(painted)):
        found += look.before(tile)
    for tile in range(len(painted)):
        found += look.elsewhere(tile, found)
    return [_beside(tiles, painted, pair) for pair in found]


class _Look:
    """Compares pairs, each once."""

    def __init__(self, tiles: tuple[Tile, ...]) -> None:
        self.tiles = tiles
        self.correlator = Correlator(sketches(tiles))
        self.tried: set[tuple[int, int]] = set()

    def pair(self, first: int, second: int) -> Pair | None:
        self.tried.add((first, second))
        guess = self.correlator.guesses(first, second)[0]
        if guess.score < BELIEVED:
            return None
        return checked_in_small(self.tiles, first, second, guess)

    def before(self, tile: int) -> list[Pair]:
        """Look among the tiles before for one that it overlaps."""
        for other in range(tile - 1, max(tile - 1 - MOST_TRIED, -1), -1):
            pair = self.pair(other, tile)
            if pair is not None:
                return [pair]
        return []

    def elsewhere(self, tile: int, found: list[Pair]) -> list[Pair]:
        """Look with a tile whose overlaps so far are narrow at others near it in order."""
        mine = [self.width(p) for p in found if tile in (p.first, p.second)]
        if not mine or max(mine) >= ROOMY_MM:
            return []
        others = sorted(
            (k for k in range(len(self.tiles)) if k != tile), key=lambda k: abs(k - tile)
        )
        more = []
        for other in others[: 2 * MOST_TRIED]:
            pair = (min(tile, other), max(tile, other))
            if pair not in self.tried:
                looked = self.pair(*pair)
                more += [looked] if looked is not None else []
        return more

    def width(self, pair: Pair) -> float:
        shared = _shared(self.tiles, pair)
        return shared.width * MM_PER_INCH / self.tiles[pair.first].ppi[0]


def placed_neighbours(
    tiles: tuple[Tile, ...], poses: tuple[Pose, ...], pairs: Sequence[tuple[int, int]]
) -> list[Beside]:
    """Describe pairs whose poses are known, as `neighbours` does those it looks for.

    Parameters
    ----------
    tiles : tuple of Tile
    poses : tuple of Pose
        Of each, on the painting.
    pairs : sequence of tuple of int
        Which tiles were compared; those that share nothing are left out.
    """
    found = [_described(tiles, pair, (poses[pair[0]], poses[pair[1]]), False) for pair in pairs]
    return [one for one in found if one.width > 0]


def _shared(tiles: tuple[Tile, ...], pair: Pair) -> Overlap:
    one, two = tiles[pair.first], tiles[pair.second]
    return overlap(one, two, one.resting(), pair.pose)


def _beside(tiles: tuple[Tile, ...], painted: list[int], pair: Pair) -> Beside:
    """Describe a pair with the numbers of all tiles."""
    numbers = painted[pair.first], painted[pair.second]
    poses = tiles[numbers[0]].resting(), pair.pose
    return _described(tiles, numbers, poses, pair.agreeing > 0)


def _described(
    tiles: tuple[Tile, ...], numbers: tuple[int, int], poses: tuple[Pose, Pose], sure: bool
) -> Beside:
    one, two = (tiles[k] for k in numbers)
    shared = overlap(one, two, *poses)
    rows, columns = np.nonzero(shared.shared)
    points = (np.column_stack([columns, rows]) + 0.5) * shared.spacing - 0.5
    there = poses[1].scan_from_painting(poses[0].painting_from_scan(points))
    return Beside(
        first=numbers[0],
        second=numbers[1],
        turns=round((poses[1].angle - poses[0].angle) / 90.0) % 4,
        pose=poses[1],
        width=shared.width * MM_PER_INCH / one.ppi[0],
        places=(_box(points, one, shared.spacing), _box(there, two, shared.spacing)),
        sure=sure,
    )


def _box(points: FloatArray, tile: Tile, spacing: float) -> Box:
    """Upright box round squares of a lattice, mm, within the scan."""
    if len(points) == 0:
        return (0.0, 0.0, 0.0, 0.0)
    size = np.array([tile.width, tile.height], dtype=float)
    low = np.clip(points.min(axis=0) + 0.5 - spacing / 2, 0, size) * MM_PER_INCH / tile.ppi
    high = np.clip(points.max(axis=0) + 0.5 + spacing / 2, 0, size) * MM_PER_INCH / tile.ppi
    return (float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1]))


def quarter_turns(count: int, pairs: list[Beside]) -> list[int | None]:
    """Quarter turns of every tile against the others of its group; None if it has none.

    In each group of connected tiles the turn that most share is 0; of two turns
    shared by as many tiles, that of the earliest tile.
    """
    turns: list[int | None] = [None] * count
    for root in range(count):
        if turns[root] is not None or not any(root in (p.first, p.second) for p in pairs):
            continue
        group = {root: 0}
        grew = True
        while grew:
            grew = False
            for p in pairs:
                if p.first in group and p.second not in group:
                    group[p.second] = (group[p.first] + p.turns) % 4
                    grew = True
                elif p.second in group and p.first not in group:
                    group[p.first] = (group[p.second] - p.turns) % 4
                    grew = True
        shared = list(group.values())
        usual = max(shared, key=lambda t: (shared.count(t), -shared.index(t)))
        for tile, turn in group.items():
            turns[tile] = (turn - usual) % 4
    return turns
