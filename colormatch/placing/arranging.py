"""How the tiles lie roughly: pairs, a tree through the surest, the user's order."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from colormatch.errors import PlacingError
from colormatch.model import Progress
from colormatch.placing import wording
from colormatch.placing.coarse import Correlator, sketches
from colormatch.placing.ordering import Order, place_by_order
from colormatch.placing.overlaps import painted_mm2
from colormatch.placing.pairing import BELIEVED, Pair, checked
from colormatch.placing.poses import Pose
from colormatch.placing.records import Doubt
from colormatch.placing.tiles import Tile

TWICE = 0.9
"""Share above which two tiles are one place scanned twice."""
TOO_SMALL = 0.05
"""Share below which a tile is not placed by another."""
PLAIN = 0.006
"""Detail below which a margin has nothing to hold on to, natural log of light."""
MARGIN_SHARE = 0.2
"""How much of a tile at each side counts as its margin."""
GRADIENT_LENGTH = 2.0
"""RMS of band-passed detail over the RMS of its gradient, sketch pixels."""
CONFLICT_MM = 2.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Arrangement:
    """First poses of all tiles on one painting, the pairs used, and doubts.

    Tiles in ``by_order`` were put down by the user's order alone.
    """

    poses: tuple[Pose, ...]
    pairs: tuple[Pair, ...]
    by_order: frozenset[int]
    doubts: tuple[Doubt, ...]


def arranged(tiles: tuple[Tile, ...], order: Order | None, progress: Progress) -> Arrangement:
    """Find how tiles lie.

    Raises
    ------
    PlacingError
        If a tile has no painting, is given twice, shares too little, or
        matches nothing and no order is stated.
    """
    for tile in tiles:
        if painted_mm2(tile) <= 0.0:
            raise wording.empty(tile.name)
    if order is not None and order.columns * order.rows != len(tiles):
        raise wording.wrong_order(order.columns, order.rows, len(tiles))
    correlator = Correlator(sketches(tiles))
    pairs = _all_pairs(tiles, correlator, progress)
    for pair in pairs:
        if pair.share > TWICE:
            raise wording.twice(tiles[pair.first].name, tiles[pair.second].name, pair.share)
    pairs = _looked_wider(tiles, correlator, pairs)
    poses, used = _spanned(tiles, pairs)
    by_order: frozenset[int] = frozenset()
    doubts: list[Doubt] = []
    if any(pose is None for pose in poses):
        if order is None:
            raise _refusal(tiles, correlator, poses)
        poses, by_order, doubts = place_by_order(tiles, correlator, poses, order)
    for pair in used:
        if pair.share < TOO_SMALL:
            raise wording.small_overlap(tiles[pair.first].name, tiles[pair.second].name, pair.share)
    placed = tuple(pose for pose in poses if pose is not None)
    return Arrangement(
        poses=placed,
        pairs=tuple(pairs),
        by_order=by_order,
        doubts=(*doubts, *_conflicts(tiles, placed, pairs)),
    )


def _all_pairs(tiles: tuple[Tile, ...], correlator: Correlator, progress: Progress) -> list[Pair]:
    """Every two tiles whose likeness stands up to a closer look."""
    wanted = list(combinations(range(len(tiles)), 2))
    found = []
    # Two at a time: what takes longest lets go of the interpreter.
    with ThreadPoolExecutor(2) as pool:
        looked = pool.map(lambda pair: _likely_pair(tiles, correlator, *pair), wanted)
        for k, pair in enumerate(looked):
            progress("finding neighbours", (k + 1) / len(wanted))
            found += [pair] if pair is not None else []
    return found


def _likely_pair(
    tiles: tuple[Tile, ...], correlator: Correlator, first: int, second: int
) -> Pair | None:
    """Likelier of the two best guesses that stands up to a closer look."""
    for guess in correlator.guesses(first, second)[:2]:
        pair = checked(tiles, first, second, guess) if guess.score > BELIEVED else None
        if pair is not None:
            return pair
    return None


def _looked_wider(tiles: tuple[Tile, ...], correlator: Correlator, pairs: list[Pair]) -> list[Pair]:
    """With larger slants between tiles that are not yet connected."""
    found = list(pairs)
    for first, second in combinations(range(len(tiles)), 2):
        groups = _groups(len(tiles), found)
        if groups[first] == groups[second]:
            continue
        for guess in correlator.wide_guesses(first, second)[:2]:
            pair = checked(tiles, first, second, guess) if guess.score > BELIEVED else None
            if pair is not None:
                found.append(pair)
                break
    return found


def _groups(count: int, pairs: list[Pair]) -> list[int]:
    """Give every tile the number of its group; connected tiles have the same."""
    group = list(range(count))
    for pair in pairs:
        old, new = group[pair.second], group[pair.first]
        group = [new if g == old else g for g in group]
    return group


def _spanned(tiles: tuple[Tile, ...], pairs: list[Pair]) -> tuple[list[Pose | None], list[Pair]]:
    """Poses along the tree of largest shares through the largest group, and its pairs."""
    groups = _groups(len(tiles), pairs)
    main = max(groups, key=lambda g: (groups.count(g), -groups.index(g)))
    root = groups.index(main)
    poses: list[Pose | None] = [None] * len(tiles)
    poses[root] = tiles[root].resting()
    used: list[Pair] = []
    while True:
        open_pairs = [p for p in pairs if (poses[p.first] is None) != (poses[p.second] is None)]
        if not open_pairs:
            return poses, used
        best = max(open_pairs, key=lambda p: min(p.share, 0.2) * p.agreeing)
        _attach(tiles, poses, best)
        used.append(best)


def _attach(tiles: tuple[Tile, ...], poses: list[Pose | None], pair: Pair) -> None:
    """Place the pair's unplaced tile beside its placed one."""
    first = poses[pair.first]
    if first is not None:
        poses[pair.second] = chained(pair.pose, first)
        return
    second = poses[pair.second]
    if second is not None:
        angle = second.angle - pair.pose.angle
        scale = second.scale / pair.pose.scale
        turned = pair.pose.moved(angle, scale, np.zeros(2))
        poses[pair.first] = (
            tiles[pair.first].resting().moved(angle, scale, second.shift - turned.shift)
        )


def chained(relative: Pose, first: Pose) -> Pose:
    """Pose relative to a resting tile, once that tile lies at ``first``."""
    return relative.moved(first.angle, first.scale, first.shift)


def _conflicts(tiles: tuple[Tile, ...], poses: tuple[Pose, ...], pairs: list[Pair]) -> list[Doubt]:
    """Pairs that the tree contradicts."""
    doubts = []
    for pair in pairs:
        claimed = chained(pair.pose, poses[pair.first])
        distance = float(np.linalg.norm(claimed.shift - poses[pair.second].shift))
        if distance > CONFLICT_MM:
            first, second = tiles[pair.first].name, tiles[pair.second].name
            doubts.append(wording.conflict(first, second, distance))
    return doubts


def _refusal(
    tiles: tuple[Tile, ...],
    correlator: Correlator,
    poses: list[Pose | None],
) -> PlacingError:
    """Why the first tile that lies nowhere lies nowhere."""
    lost = next(k for k, pose in enumerate(poses) if pose is None)
    others = [k for k in range(len(tiles)) if k != lost and poses[k] is not None]
    near = max(others, key=lambda k: correlator.guesses(min(k, lost), max(k, lost))[0].score)
    if min(plainest_margin(correlator, k) for k in (lost, near)) < PLAIN:
        return wording.plain(tiles[lost].name, tiles[near].name)
    return wording.strangers(tiles[lost].name, tiles[near].name)


def plainest_margin(correlator: Correlator, tile: int) -> float:
    """Detail of the calmest of a tile's four margins along its calmest direction.

    From the smaller eigenvalue of the mean gradient tensor, as the RMS of the
    natural log of light that such a gradient means.
    """
    piece = correlator.pieces[tile]
    height, width = piece.detail.shape
    rows, columns = max(2, int(MARGIN_SHARE * height)), max(2, int(MARGIN_SHARE * width))
    down, across = np.gradient(piece.detail)
    levels = []
    for cut in (np.s_[:rows], np.s_[-rows:], np.s_[:, :columns], np.s_[:, -columns:]):
        weight = piece.weight[cut]
        if weight.sum() == 0:
            continue
        x, y = np.asarray(across)[cut][weight > 0], np.asarray(down)[cut][weight > 0]
        tensor = np.array([[x @ x, x @ y], [x @ y, y @ y]]) / len(x)
        levels.append(GRADIENT_LENGTH * float(np.sqrt(max(np.linalg.eigvalsh(tensor)[0], 0.0))))
    return min(levels, default=0.0)
