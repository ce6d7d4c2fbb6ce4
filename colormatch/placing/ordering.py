"""Tiles that their pictures do not place, put down by the order the user states."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray
from colormatch.placing import wording
from colormatch.placing.coarse import Correlator, Guess
from colormatch.placing.pairing import Pair, checked
from colormatch.placing.poses import Pose, turning
from colormatch.placing.records import Doubt
from colormatch.placing.tiles import Tile

BELIEVED_NEAR = 4.5
"""Score that is enough where only the neighbourhood of the stated place is searched."""
NEIGHBOURHOOD = 0.25
"""Its radius, of a tile's longer side."""
USUAL_STEP = 0.8
"""Distance of neighbours over a tile's size when no two tiles were placed by picture."""


@dataclass(frozen=True, kw_only=True)
class Order:
    """Tiles are given row by row, ``columns`` in each row."""

    columns: int
    rows: int

    def cell(self, tile: int) -> tuple[int, int]:
        """(column, row) of a tile."""
        return tile % self.columns, tile // self.columns


def place_by_order(
    tiles: tuple[Tile, ...],
    correlator: Correlator,
    poses: list[Pose | None],
    order: Order,
) -> tuple[list[Pose | None], frozenset[int], list[Doubt]]:
    """Fill in the poses that are missing.

    Returns
    -------
    poses : list of Pose
    by_order : frozenset of int
        Tiles that lie by the order alone.
    doubts : list of Doubt
        One for every tile filled in.
    """
    poses = list(poses)
    alone, doubts = set(), []
    steps = _steps(tiles, poses, order)
    while any(pose is None for pose in poses):
        tile, near = _next(poses, order)
        anchor = poses[near]
        assert anchor is not None
        cells = np.array(order.cell(tile)) - np.array(order.cell(near))
        place = anchor.shift + cells @ steps
        angle = _turn(tiles[tile], anchor, order, tile, steps)
        pair = _looked_near(tiles, correlator, near, tile, anchor, place, angle)
        if pair is not None:
            poses[tile] = pair.pose.moved(anchor.angle, anchor.scale, anchor.shift)
            doubts.append(wording.near_hint(tiles[tile].name, tiles[near].name))
            continue
        poses[tile] = tiles[tile].resting().moved(angle, anchor.scale, place)
        alone.add(tile)
        doubts.append(wording.by_hint(tiles[tile].name, tiles[near].name))
    return poses, frozenset(alone), doubts


def _next(poses: list[Pose | None], order: Order) -> tuple[int, int]:
    """Unplaced tile nearest in the grid to a placed one, and that one."""
    lost = [k for k, pose in enumerate(poses) if pose is None]
    known = [k for k, pose in enumerate(poses) if pose is not None]

    def distance(pair: tuple[int, int]) -> int:
        (a, b), (c, d) = order.cell(pair[0]), order.cell(pair[1])
        return abs(a - c) + abs(b - d)

    return min(((a, b) for a in lost for b in known), key=distance)


def _steps(tiles: tuple[Tile, ...], poses: list[Pose | None], order: Order) -> FloatArray:
    """Millimetres to the next column (row 0) and the next row (row 1), (2, 2)."""
    found: tuple[list[FloatArray], list[FloatArray]] = ([], [])
    for k, pose in enumerate(poses):
        column, row = order.cell(k)
        for way, other in ((0, k + 1), (1, k + order.columns)):
            inside = (column + 1 < order.columns) if way == 0 else (row + 1 < order.rows)
            beside = poses[other] if inside else None
            if pose is not None and beside is not None:
                found[way].append(beside.shift - pose.shift)
    usual = _usual(tiles, poses)
    across, down = (np.median(part, axis=0) if part else np.zeros(2) for part in found)
    if not across.any() and not down.any():
        return np.diag(usual)
    if not across.any():
        across = turning(-90.0) @ down / np.linalg.norm(down) * usual[0]
    if not down.any():
        down = turning(90.0) @ across / np.linalg.norm(across) * usual[1]
    return np.stack([across, down])


def _usual(tiles: tuple[Tile, ...], poses: list[Pose | None]) -> FloatArray:
    """Usual steps along x and y from the size of the first placed tile."""
    k, pose = next((k, pose) for k, pose in enumerate(poses) if pose is not None)
    size = np.array([tiles[k].width, tiles[k].height]) * np.array(pose.mm_per_px)
    if round(pose.angle / 90.0) % 2:
        size = size[::-1]
    return np.asarray(USUAL_STEP * size)


def _turn(tile: Tile, anchor: Pose, order: Order, index: int, steps: FloatArray) -> float:
    """Neighbour's turn, or another if the strip would lie on an inner side.

    The strip lies beside the painting, so on a side where no tile follows.
    """
    if tile.strip is None:
        return anchor.angle
    resting = tile.resting()
    towards = resting.painting_from_scan(np.asarray(tile.strip, dtype=float)[None])[0]
    column, row = order.cell(index)
    inner = [
        way
        for way, there in (
            (-steps[0], column > 0),
            (steps[0], column + 1 < order.columns),
            (-steps[1], row > 0),
            (steps[1], row + 1 < order.rows),
        )
        if there
    ]
    half = np.array([tile.width, tile.height]) * np.array(resting.mm_per_px) / 2.0
    side = np.zeros(2)
    axis = int(np.argmax(np.abs(towards / half)))
    side[axis] = np.sign(towards[axis])
    for quarter in (0.0, 180.0, 90.0, 270.0):
        pointing = turning(anchor.angle + quarter) @ side
        if all(pointing @ way < 0.5 * np.linalg.norm(way) for way in inner):
            return anchor.angle + quarter
    return anchor.angle


def _looked_near(
    tiles: tuple[Tile, ...],
    correlator: Correlator,
    near: int,
    tile: int,
    anchor: Pose,
    place: FloatArray,
    angle: float,
) -> Pair | None:
    """Tile found by its picture close to where the order puts it, if it is."""
    relative = (place - anchor.shift) @ anchor.rotation / anchor.scale
    size = max(
        length * mm
        for length, mm in zip(
            (tiles[tile].width, tiles[tile].height), anchor.mm_per_px, strict=True
        )
    )
    spot = ((float(relative[0]), float(relative[1])), NEIGHBOURHOOD * size)
    tried: list[Guess] = [
        correlator.guess(near, tile, angle - anchor.angle + slant, near=spot)
        for slant in (-2.0, -1.0, 0.0, 1.0, 2.0)
    ]
    best = max(tried, key=lambda g: g.score)
    return checked(tiles, near, tile, best) if best.score > BELIEVED_NEAR else None
