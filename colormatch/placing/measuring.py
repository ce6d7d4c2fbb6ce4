"""At full scale: blocks over all that two placed tiles share, read by window."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray
from colormatch.placing.blocks import Matches, Plan
from colormatch.placing.overlaps import Overlap, block_centres, overlap
from colormatch.placing.pairing import compare_either_way
from colormatch.placing.poses import MM_PER_INCH, Pose
from colormatch.placing.robust import robust_affine
from colormatch.placing.slopes import Observation
from colormatch.placing.tiles import Tile

SIDE_MM = 7.0
"""Side of a block: a carriage that swings once in 30 mm swings little within it."""
LEAST_SIDE, LARGEST_SIDE = 40, 512
PITCH_MM = 5.5
"""Distance of blocks, widened where there would be too many."""
MOST_PIXELS = 14_000_000
"""Held at once per tile, as float32."""
MOST_BLOCKS = 300
FINEST_PPI = 250.0
"""Resolution that blocks are compared at, or finer: a hundredth of such a pixel, which
they reach, is far less than the eye or the levelling asks for."""
SEARCH = 16
"""Pixels either way about the place expected from the reduced scale."""
AGREEING = 6.0
"""Distance from the common map beyond which a block is a mistake, pixels."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Measured:
    """One pair's blocks and what they share."""

    observation: Observation
    shared: Overlap
    tried: int


def measured(
    tiles: tuple[Tile, ...], poses: tuple[Pose, ...], first: int, second: int
) -> Measured | None:
    """Compare two tiles at full scale; None if they share no block.

    Parameters
    ----------
    tiles : tuple of Tile
    poses : tuple of Pose
        Good to `SEARCH` pixels.
    first, second : int
        Which tiles.
    """
    pair = (tiles[first], tiles[second])
    both = (poses[first], poses[second])
    shared = overlap(*pair, *both)
    ratio = max(1.0, both[1].mm_per_px[0] / both[0].mm_per_px[0])
    step = _step(both)
    side = _side(both, shared.width / ratio, step)
    if side < LEAST_SIDE:
        return None
    centres = _centres(shared, side * step * ratio, both)
    if len(centres) == 0:
        return None
    plan = Plan(side=side, search=min(-(-SEARCH // step), side // 3))
    found = compare_either_way(pair, both, centres, step, plan)
    observation = _observation(found, both, first, second)
    return Measured(observation=observation, shared=shared, tried=found.tried)


def _step(poses: tuple[Pose, Pose]) -> int:
    """Scan pixels per pixel compared: a power of two, so that `FINEST_PPI` is kept."""
    coarser = max(pose.mm_per_px[0] for pose in poses)
    return 1 << int(np.log2(max(MM_PER_INCH / coarser / FINEST_PPI, 1.0)))


def _side(poses: tuple[Pose, Pose], width: float, step: int) -> int:
    """Even side of a block, compared pixels of the coarser tile; 0 if none fits."""
    coarser = max(pose.mm_per_px[0] for pose in poses) * step
    wanted = min(max(SIDE_MM / coarser, LEAST_SIDE + 8), LARGEST_SIDE)
    return 2 * int(min(wanted, 0.9 * width / step) // 2)


def _centres(shared: Overlap, side: float, poses: tuple[Pose, Pose]) -> FloatArray:
    """Centres at a pitch that keeps number and memory within bounds.

    Between tiles whose carriages ran the same way the rows stay close, so
    that a swing is seen, and blocks are left out along the lamp.
    """
    area = float(shared.shared.sum()) * shared.spacing**2
    most = min(MOST_BLOCKS, MOST_PIXELS / side**2)
    pitch = max(PITCH_MM / poses[0].mm_per_px[0], 0.6 * side)
    turn = (poses[1].angle - poses[0].angle) % 180.0
    parallel = min(turn, 180.0 - turn) < 45.0
    if parallel and not (poses[0].along_x or poses[1].along_x):
        return block_centres(shared, side, pitch, max(pitch, area / (most * pitch)))
    return block_centres(shared, side, max(pitch, float(np.sqrt(area / most))))


def _observation(found: Matches, poses: tuple[Pose, Pose], first: int, second: int) -> Observation:
    """Turn matches into gaps on the painting, gross mistakes left out."""
    pose = poses[0]
    ours, theirs = found.first, found.second
    information = found.information
    if len(ours) >= 3:
        painted = pose.painting_from_scan(ours) / pose.mm_per_px[0]
        again = poses[1].painting_from_scan(theirs) / pose.mm_per_px[0]
        _, good = robust_affine(again, painted, reach=AGREEING)
        ours, theirs, information = ours[good], theirs[good], information[good]
    turn = pose.rotation
    per_mm = 1.0 / (pose.mm_per_px[0] * pose.scale)
    return Observation(
        first=first,
        second=second,
        ours=ours,
        theirs=theirs,
        information=turn @ information @ turn.T * per_mm**2,
    )
