"""Placing stage as a whole: arrange, measure, solve, lay out the canvas."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import combinations

import numpy as np

from colormatch.model import FloatArray, Progress, silent
from colormatch.placing import wording
from colormatch.placing.arranging import Arrangement, arranged
from colormatch.placing.measuring import Measured, measured
from colormatch.placing.network import Network, Solution, relative_spread, solved
from colormatch.placing.ordering import Order
from colormatch.placing.overlaps import painted_ends
from colormatch.placing.poses import MM_PER_INCH, Pose, resting_pose
from colormatch.placing.records import Doubt, PairFit, Placement
from colormatch.placing.tiles import Tile

PPI_BELIEVED = 0.003
"""Scale further from 1 than this is taken from the picture, with a doubt."""
FINER_KNOTS = (12.5, 7.0)
"""Spacings tried where wider knots leave more than the blocks' errors, mm."""
FINER_ABOVE = 1.2
"""Chi-squared above which they are tried."""
FINER_GAIN = 0.9
"""Chi-squared must fall to this share for a finer spline to be kept."""
WHOLE = 0.02
"""Tile within this of a whole-pixel shift is a whole-pixel shift, pixels."""
WEAK = 0.25
"""Predicted error that is reported, canvas pixels, one sigma."""
POOR_RMS, POOR_SHARE = 0.5, 0.4
"""RMS in pixels, and share of blocks left out, that are reported."""


def place(
    tiles: tuple[Tile, ...],
    *,
    order: Order | None = None,
    ppi: float | None = None,
    progress: Progress = silent,
) -> Placement:
    """Find where all tiles lie.

    Parameters
    ----------
    tiles : tuple of Tile
        In any order, each at any quarter turn and a small slant.
    order : Order or None
        How they lie, row by row: used only for tiles that their pictures do
        not place.
    ppi : float or None
        Of the canvas; None takes the finest tile's.
    progress : callable
        Told how far it is.

    Returns
    -------
    Placement
        The canvas holds all painted places; its axes are those of the first
        tile in the largest connected group.

    Raises
    ------
    PlacingError
        One sentence that names the tiles and says what to do.
    """
    start = arranged(tiles, order, progress)
    if ppi is None:
        ppi = max(sum(tile.ppi) / 2.0 for tile in tiles)
    scales, doubts = _scales(tiles, start)
    found = _measured_pairs(tiles, start, progress)
    held = int(np.argmin([abs(p.angle) + np.linalg.norm(p.shift) for p in start.poses]))
    solution = _solved(start.poses, found, scales, held)
    solution = replace(solution, poses=_settled(solution.poses, held))
    doubts += [*start.doubts, *_unchecked(tiles, found)]
    return _laid_out(tiles, solution, found, ppi, tuple(doubts))


def _scales(tiles: tuple[Tile, ...], start: Arrangement) -> tuple[FloatArray, list[Doubt]]:
    """Scale expected of every tile, and those whose ppi is not believed."""
    scales = np.ones(len(tiles))
    doubts = []
    for k, pose in enumerate(start.poses):
        if abs(pose.scale - 1.0) > PPI_BELIEVED and k not in start.by_order:
            scales[k] = pose.scale
            doubts.append(wording.scale(tiles[k].name, 1.0 / pose.scale))
    return scales, doubts


def _measured_pairs(
    tiles: tuple[Tile, ...], start: Arrangement, progress: Progress
) -> tuple[Measured, ...]:
    """All pairs that share at least one block by the first poses."""
    pairs = [(a, b) for a, b in combinations(range(len(tiles)), 2) if not start.by_order & {a, b}]

    def compared(pair: tuple[int, int]) -> Measured | None:
        return measured(tiles, start.poses, *pair)

    found = []
    # Two at a time: what takes longest lets go of the interpreter.
    with ThreadPoolExecutor(2) as pool:
        for k, one in enumerate(pool.map(compared, pairs)):
            progress("comparing overlaps", (k + 1) / len(pairs))
            if one is not None:
                found.append(one)
    return tuple(found)


def _solved(
    poses: tuple[Pose, ...], found: tuple[Measured, ...], scales: FloatArray, held: int
) -> Solution:
    """Network's solution, with finer splines where they are needed."""
    seen = tuple(m.observation for m in found if len(m.observation.ours))
    network = Network(observations=seen, scales=scales, held=held)
    solution = solved(network, poses)
    for spacing in FINER_KNOTS:
        if solution.chi_square < FINER_ABOVE:
            break
        finer = solved(network, tuple(_with_knots(pose, spacing) for pose in poses))
        if finer.chi_square > FINER_GAIN * solution.chi_square:
            break
        solution = finer
    return solution


def _with_knots(pose: Pose, spacing: float) -> Pose:
    """Pose without swing, with other knots."""
    ppi = (MM_PER_INCH / pose.mm_per_px[0], MM_PER_INCH / pose.mm_per_px[1])
    fresh = resting_pose(pose.size, ppi, along_x=pose.along_x, spacing=spacing)
    return replace(pose, knots=fresh.knots, carriage=fresh.carriage)


def _settled(poses: tuple[Pose, ...], held: int) -> tuple[Pose, ...]:
    """Poses that are whole-pixel shifts within the error made so exactly.

    A tile cut from a picture at whole pixels then needs no resampling.
    """
    base = poses[held]
    mm = np.array(base.mm_per_px)
    out = []
    for pose in poses:
        size = np.array(pose.size) - 1.0
        marks = np.stack(np.meshgrid(*np.linspace([0, 0], size, 9).T), axis=-1).reshape(-1, 2)
        offset = (pose.painting_from_scan(marks) - base.shift) / mm - marks
        whole = np.round(offset.mean(axis=0) + (np.array(base.size) - 1.0) / 2.0)
        gap = offset + (np.array(base.size) - 1.0) / 2.0 - whole
        if pose.mm_per_px == base.mm_per_px and np.abs(gap).max() < WHOLE:
            middle = base.shift + (size - np.array(base.size) + 1.0 + 2.0 * whole) / 2.0 * mm
            pose = replace(
                pose,
                shift=middle,
                angle=0.0,
                scale=1.0,
                stretch=0.0,
                lens=np.zeros_like(pose.lens),
                # Its knots stay, because the covariance was solved for them.
                carriage=np.zeros_like(pose.carriage),
            )
        out.append(pose)
    return tuple(out)


def _unchecked(tiles: tuple[Tile, ...], found: tuple[Measured, ...]) -> list[Doubt]:
    """Overlaps in which not one block could be compared."""
    doubts = []
    for m in found:
        if len(m.observation.ours) == 0:
            pair = tiles[m.observation.first].name, tiles[m.observation.second].name
            doubts.append(wording.unchecked(*pair))
    return doubts


def _laid_out(
    tiles: tuple[Tile, ...],
    solution: Solution,
    found: tuple[Measured, ...],
    ppi: float,
    doubts: tuple[Doubt, ...],
) -> Placement:
    """Canvas, figures per pair and the last doubts."""
    matrix, width, height = _canvas(tiles, solution.poses, ppi)
    observed = [m for m in found if len(m.observation.ours)]
    fits = tuple(
        _fit(m, solution, gap, weight, matrix)
        for m, gap, weight in zip(observed, solution.gaps, solution.weights, strict=True)
    )
    lengths = [np.hypot(*fit.gaps[fit.weights > 0.5].T) for fit in fits]
    together = np.concatenate(lengths) if lengths else np.zeros(0)
    return Placement(
        names=tuple(tile.name for tile in tiles),
        poses=solution.poses,
        ppi=ppi,
        width=width,
        height=height,
        canvas_from_mm=matrix,
        pairs=fits,
        rms=_rms(together),
        largest=float(together.max(initial=0.0)),
        chi_square=solution.chi_square,
        doubts=(*doubts, *_pair_doubts(tiles, fits)),
    )


def _rms(lengths: FloatArray) -> float:
    return float(np.sqrt((lengths**2).mean())) if lengths.size else 0.0


def _canvas(
    tiles: tuple[Tile, ...], poses: tuple[Pose, ...], ppi: float
) -> tuple[FloatArray, int, int]:
    """Canvas pixels from millimetres and its size, around all painted places.

    Its pixels fall on those of a tile that lies without turn at the same ppi.
    """
    scale = ppi / MM_PER_INCH
    ends = []
    for tile, pose in zip(tiles, poses, strict=True):
        ends.append(pose.painting_from_scan(painted_ends(tile)) * scale)
    everything = np.concatenate(ends)
    origin = poses[0].painting_from_scan(np.zeros((1, 2)))[0] * scale
    low = origin + np.floor(everything.min(axis=0) - origin + 0.5 + 1e-3)
    high = everything.max(axis=0)
    width, height = np.maximum(1, np.ceil(high - low + 0.5 - 1e-3).astype(int))
    return np.column_stack([np.eye(2) * scale, -low]), int(width), int(height)


def _fit(
    m: Measured,
    solution: Solution,
    gap: FloatArray,
    weight: FloatArray,
    matrix: FloatArray,
) -> PairFit:
    """One pair's figures in canvas pixels."""
    o = m.observation
    poses = solution.poses
    scale = float(np.hypot(*matrix[:, 0]))
    places = poses[o.first].painting_from_scan(o.ours) @ matrix[:, :2].T + matrix[:, 2]
    gap = _seen_part(gap, o.information)
    lengths = np.hypot(*gap[weight > 0.5].T) * scale
    shared = m.shared
    spots = np.argwhere(shared.shared)[:: max(1, int(shared.shared.sum()) // 60)]
    points = (spots[:, ::-1] + 0.5) * shared.spacing - 0.5
    spread = relative_spread(solution, o.first, o.second, points) * scale
    return PairFit(
        first=o.first,
        second=o.second,
        share=shared.share,
        places=places,
        gaps=gap @ matrix[:, :2].T,
        weights=weight,
        tried=m.tried,
        rms=_rms(lengths),
        largest=float(lengths.max(initial=0.0)),
        spread=float(spread.max(initial=0.0)),
    )


def _seen_part(gaps: FloatArray, information: FloatArray) -> FloatArray:
    """Gaps without what lies along directions that a block does not show."""
    values, vectors = np.linalg.eigh(information)
    seen = (values > 1e-6 * values[:, 1:]).astype(float)
    return np.asarray(np.einsum("kij,kj,klj,kl->ki", vectors, seen, vectors, gaps))


def _pair_doubts(tiles: tuple[Tile, ...], fits: tuple[PairFit, ...]) -> list[Doubt]:
    """Pairs that are poorly known or do not fit."""
    doubts = []
    for fit in fits:
        names = tiles[fit.first].name, tiles[fit.second].name
        if fit.spread > WEAK:
            doubts.append(wording.weak(*names, fit.spread))
        left_out = float((fit.weights < 0.1).mean())
        if fit.rms > POOR_RMS or left_out > POOR_SHARE:
            doubts.append(wording.residual(*names, fit.rms, left_out))
    return doubts
