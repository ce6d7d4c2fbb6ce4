"""From a rough guess to a sound similarity between two tiles, or to its refusal."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from colormatch.model import FloatArray
from colormatch.placing.blocks import Matches, Plan, compare
from colormatch.placing.coarse import Guess
from colormatch.placing.overlaps import block_centres, overlap
from colormatch.placing.poses import Pose
from colormatch.placing.robust import consensus_similarity
from colormatch.placing.tiles import Tile, View

BELIEVED = 7.0
"""Score from which a guess is tried: the best of 200 000 unrelated reach about 5."""
MIDDLE_STEP = 4
"""Scale between overview and full."""
LEAST_SIDE, LARGEST_SIDE = 16, 64
"""Blocks at reduced scales, pixels of the view."""
MANY_SIDE = 24
"""Larger side is taken only if enough blocks are left to agree."""
MOST_BLOCKS = 80
LEAST_AGREEING = 0.4
"""Share of the blocks with a peak that must agree on one similarity."""
REACH = 1.5
"""Distance within which blocks agree, pixels of the view."""
MAX_SCALE = 0.03
"""Largest departure of two tiles' scales from what their ppi say."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Pair:
    """Two tiles found to show the same paint.

    Attributes
    ----------
    first, second : int
        Which tiles.
    pose : Pose
        Of the second, in the frame where the first rests.
    score : float
        Of the guess.
    agreeing : int
        Blocks that agree on the pose.
    share : float
        Shared area over the smaller tile's painted area.
    """

    first: int
    second: int
    pose: Pose
    score: float
    agreeing: int
    share: float


def guessed_pose(tile: Tile, guess: Guess) -> Pose:
    """Second tile's pose as the guess has it, the first at rest."""
    return tile.resting().moved(guess.angle, 1.0, np.array(guess.shift))


def checked(tiles: tuple[Tile, ...], first: int, second: int, guess: Guess) -> Pair | None:
    """Refine a guess on blocks at two scales; None if they do not agree."""
    one, two = tiles[first], tiles[second]
    pose, agreeing = guessed_pose(two, guess), 0
    for step in _steps(one, two):
        looked = _refined(one, two, pose, step)
        if looked is None:
            continue
        pose, agreeing = looked
        if agreeing == 0:
            return None
        if step <= MIDDLE_STEP:
            break
    if agreeing == 0:
        return None
    share = overlap(one, two, one.resting(), pose).share
    return Pair(
        first=first, second=second, pose=pose, score=guess.score, agreeing=agreeing, share=share
    )


def checked_in_small(tiles: tuple[Tile, ...], first: int, second: int, guess: Guess) -> Pair | None:
    """Refine a guess on the overviews alone, reading nothing; None if they contradict it.

    Overviews of different scales, and overlaps too narrow for a block, leave the
    guess as it is, with no blocks agreeing.
    """
    one, two = tiles[first], tiles[second]
    pose, agreeing = guessed_pose(two, guess), 0
    if one.step == two.step:
        looked = _refined(one, two, pose, one.step)
        if looked is not None and looked[1] == 0:
            return None
        pose, agreeing = looked or (pose, 0)
    share = overlap(one, two, one.resting(), pose).share
    return Pair(
        first=first, second=second, pose=pose, score=guess.score, agreeing=agreeing, share=share
    )


def _steps(one: Tile, two: Tile) -> list[int]:
    """Scales to pass through, coarse to fine; the last only for narrow overlaps."""
    steps = [MIDDLE_STEP, MIDDLE_STEP // 2, 1]
    if one.step == two.step:
        return [one.step, *(step for step in steps if step < one.step)]
    return steps


def _refined(one: Tile, two: Tile, pose: Pose, step: int) -> tuple[Pose, int] | None:
    """One pass at one scale: the better pose and how many blocks agree.

    None where the overlap is too narrow at this scale to say anything.
    """
    shared = overlap(one, two, one.resting(), pose)
    across = float(np.sqrt(shared.shared.sum())) * shared.spacing / step
    wanted = min(LARGEST_SIDE, 0.8 * shared.width / step, max(MANY_SIDE, 0.3 * across))
    side = 2 * int(wanted // 2)
    if side < LEAST_SIDE:
        return None
    pitch = step * max(0.6 * side, across / np.sqrt(MOST_BLOCKS))
    centres = block_centres(shared, side * step, pitch)
    found = compare_either_way(
        (one, two), (one.resting(), pose), centres, step, Plan(side=side, search=side // 2 - 2)
    )
    return _agreed(found, one, pose, step)


def compare_either_way(
    pair: tuple[Tile, Tile],
    poses: tuple[Pose, Pose],
    centres: FloatArray,
    step: int,
    plan: Plan,
) -> Matches:
    """`compare` with the coarser tile in front; matches in the order given.

    ``centres`` are scan pixels of the first tile.
    """
    one, two = (View(tile=tile, step=step) for tile in pair)
    if poses[0].mm_per_px[0] >= 0.999 * poses[1].mm_per_px[0]:
        return compare(one, two, poses, centres, plan)
    there = poses[1].scan_from_painting(poses[0].painting_from_scan(centres))
    found = compare(two, one, (poses[1], poses[0]), there, plan)
    ratio = poses[0].mm_per_px[0] / poses[1].mm_per_px[0]
    turn = poses[0].rotation.T @ poses[1].rotation
    information = turn @ found.information @ turn.T * ratio**2
    return replace(found, first=found.second, second=found.first, information=information)


def _agreed(found: Matches, one: Tile, pose: Pose, step: int) -> tuple[Pose, int]:
    """Pose after the similarity most blocks agree on; 0 if too few do."""
    if len(found.first) < min(3, found.tried) or len(found.first) < 2:
        return pose, 0
    ours = one.resting().painting_from_scan(found.first)
    theirs = pose.painting_from_scan(found.second)
    pixel = step * one.resting().mm_per_px[0]
    change, inlier = consensus_similarity(
        theirs, ours, reach=REACH * pixel, max_turn=5.0, max_scale=MAX_SCALE
    )
    agreeing = int(inlier.sum())
    if agreeing < max(3, LEAST_AGREEING * len(found.first)):
        return pose, 0
    angle = float(np.degrees(np.arctan2(change[1, 0], change[0, 0])))
    scale = float(np.hypot(change[0, 0], change[1, 0]))
    return pose.moved(angle, scale, change[:, 2]), agreeing
