"""Which of two tiles is right where they differ, and so where not to take a tile.

Asked in turn, the first clear answer counts: the sharper tile; the one whose own
edge the difference does not follow; the one a third tile agrees with; the one
whose light does not jump at the border of the place. A shadow is darker on one
side of what casts it and may be brighter on the other: brightness alone decides
nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from colormatch.joining.disputes import SLIP, Dispute, find_disputes, log_light
from colormatch.joining.evidence import SOFTER
from colormatch.joining.records import BoolArray, Grid, GridTile, Remark
from colormatch.model import FloatArray

MEASURED_SHARE = 0.3
"""Of a place, in which sharpness must be measurable."""
EDGE_REACH = 12.0
"""Millimetres from its own edge within which a tile's shadows are cast by it."""
ELONGATED = 4.0
"""Length along the edge over width across it."""
LEAST_LENGTH = 6.0
"""Millimetres along an edge."""
NEARER = 0.5
"""One edge is the nearer one if its distance is below this share of the other's."""
VOTE_SHARE = 0.6
"""Of a place, that a third tile must show to be asked."""
CLEARLY = 0.5
"""A difference is clearly smaller than another below this share of it."""
RING = 1.5
"""Millimetres around a place that count as its surroundings."""
REACH = 1.0
"""Millimetres around a place in which the worse tile is not taken either."""

KNOWN = 0.5
"""Share of a place told before, against another tile, from which on it is not told again."""

REASONS = {
    "softer": "{} is softer there",
    "edge": "the difference follows the edge of {}",
    "third": "a third scan agrees, and not with {}",
    "surroundings": "the light of {} jumps at the border of the place",
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Verdict:
    """What was decided about differing tiles.

    Attributes
    ----------
    penalties : tuple of ndarray of float32
        For each tile, of the shape of its arrays: 0 where it may be taken, 1
        where it should not be.
    remarks : tuple of Remark
        Each place, the largest first.
    """

    penalties: tuple[FloatArray, ...]
    remarks: tuple[Remark, ...]


def judge_shadows(
    grid: Grid, tiles: Sequence[GridTile], softness: Sequence[FloatArray], *, slip: float = SLIP
) -> Verdict:
    """Decide, wherever two tiles differ, which of them is right.

    Parameters
    ----------
    grid : Grid
    tiles : sequence of GridTile
        Matched and levelled.
    softness : sequence of ndarray
        From `colormatch.joining.evidence.softness_maps`.
    slip : float, optional
        Grid pixels by which tiles may be displaced.
    """
    penalties = tuple(np.zeros(tile.valid.shape, dtype=np.float32) for tile in tiles)
    remarks = []
    for dispute in find_disputes(grid, tiles, slip=slip):
        wrong, reason = _wrong_tile(grid, tiles, softness, dispute)
        known = 0.0
        if wrong is not None:
            part = penalties[wrong][dispute.box.within(tiles[wrong].box)]
            known = float(part[dispute.mask].mean())
            part[_grown(dispute.mask, REACH / grid.pixel)] = 1
        if known < KNOWN:
            remarks.append(_remark(grid, tiles, dispute, wrong, reason))
    return Verdict(penalties=penalties, remarks=tuple(remarks))


def _wrong_tile(
    grid: Grid, tiles: Sequence[GridTile], softness: Sequence[FloatArray], dispute: Dispute
) -> tuple[int | None, str]:
    """Ask the four questions in turn."""
    questions: tuple[tuple[str, Callable[[], int | None]], ...] = (
        ("softer", lambda: _softer(tiles, softness, dispute)),
        ("edge", lambda: _at_own_edge(grid, tiles, dispute)),
        ("third", lambda: _outvoted(grid, tiles, dispute)),
        ("surroundings", lambda: _jumping(grid, dispute)),
    )
    for reason, ask in questions:
        which = ask()
        if which is not None:
            return (dispute.first, dispute.second)[which], reason
    return None, ""


def _softer(
    tiles: Sequence[GridTile], softness: Sequence[FloatArray], dispute: Dispute
) -> int | None:
    values = [
        softness[k][dispute.box.within(tiles[k].box)][dispute.mask]
        for k in (dispute.first, dispute.second)
    ]
    if min(np.isfinite(v).mean() for v in values) < MEASURED_SHARE:
        return None
    first, second = (float(np.nanmedian(v)) for v in values)
    if abs(first - second) <= SOFTER:
        return None
    return 0 if first > second else 1


def _at_own_edge(grid: Grid, tiles: Sequence[GridTile], dispute: Dispute) -> int | None:
    """Tell the tile along whose edge the place is stretched out."""
    near = []
    for k in (dispute.first, dispute.second):
        distance = tiles[k].edge_distance[dispute.box.within(tiles[k].box)][dispute.mask]
        low, high = np.percentile(distance, [5, 95])
        width = max(float(high - low), grid.pixel)
        length = float(dispute.mask.sum()) * grid.pixel**2 / width
        follows = length >= max(ELONGATED * width, LEAST_LENGTH)
        middle = float(np.median(distance))
        near.append(middle if follows and middle < EDGE_REACH else np.inf)
    if min(near) == np.inf or min(near) > NEARER * max(near):
        return None
    return int(np.argmin(near))


def _outvoted(grid: Grid, tiles: Sequence[GridTile], dispute: Dispute) -> int | None:
    """Tell the tile from which all other tiles that show the place differ."""
    votes = set()
    for k, tile in enumerate(tiles):
        if k in (dispute.first, dispute.second):
            continue
        box = dispute.box.shared(tile.box)
        if box is None:
            continue
        at = box.within(dispute.box)
        mask = dispute.mask[at] & tile.valid[box.within(tile.box)]
        if mask.sum() < VOTE_SHARE * dispute.mask.sum():
            continue
        third = log_light(grid, tile, box)[mask]
        gaps = [abs(float(np.median(log[at][mask] - third))) for log in dispute.log_light]
        if min(gaps) < CLEARLY * max(gaps):
            votes.add(int(np.argmax(gaps)))
    return votes.pop() if len(votes) == 1 else None


def _jumping(grid: Grid, dispute: Dispute) -> int | None:
    """Tell the tile whose own light steps at the border of the place."""
    import cv2

    around = _grown(dispute.mask, RING / grid.pixel + 1) & ~_grown(dispute.mask, 1)
    around &= dispute.both
    strength = np.abs(dispute.difference)
    core = dispute.mask & (strength >= 0.5 * np.percentile(strength[dispute.mask], 90))
    sigma = RING / grid.pixel
    weight = cv2.GaussianBlur(around.astype(np.float32), (0, 0), sigma)
    known = core & (weight > 0.02)
    if known.sum() < 0.2 * core.sum():
        return None
    steps = []
    for log in dispute.log_light:
        outside = cv2.GaussianBlur(np.where(around, log, 0).astype(np.float32), (0, 0), sigma)
        steps.append(abs(float(np.median(log[known] - outside[known] / weight[known]))))
    return int(np.argmax(steps)) if min(steps) < CLEARLY * max(steps) else None


def _grown(mask: BoolArray, radius: float) -> BoolArray:
    """Widen a mask by a disc of ``radius`` pixels."""
    import cv2

    reach = max(1, round(radius))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    return np.asarray(cv2.dilate(mask.astype(np.uint8), disc)) > 0


def _remark(
    grid: Grid, tiles: Sequence[GridTile], dispute: Dispute, wrong: int | None, reason: str
) -> Remark:
    place, size = _extent(grid, dispute)
    right = dispute.second if wrong == dispute.first else dispute.first
    names = tiles[dispute.first if wrong is None else wrong].name, tiles[right].name
    if wrong is None:
        names = tiles[dispute.first].name, tiles[dispute.second].name
    # Log of the named tile's light over the other's; a loss of light counts positive.
    log = dispute.depth if wrong in (None, dispute.first) else -dispute.depth
    depth = 1 - float(np.exp(log))
    where = f"at {place[0]:.0f}, {place[1]:.0f} mm ({size[0]:.0f} x {size[1]:.1f} mm)"
    kind = "darker" if depth > 0 else "brighter"
    than = f"{abs(depth):.0%} {kind} than"
    if depth < -1:
        than = f"{1 - depth:.0f} times as bright as"
    text = f"{where} {names[0]} is {than} {names[1]}: "
    if wrong is None:
        text += "nothing tells which is right; look there, and choose by a [[keep]] region"
    else:
        text += f"taken from {names[1]}, because " + REASONS[reason].format(names[0])
    return Remark(
        kind="unresolved" if wrong is None else "shadow",
        tiles=names,
        place=place,
        size=size,
        depth=depth,
        reason=reason,
        text=text,
        box=_upright(grid, dispute),
    )


def _upright(grid: Grid, dispute: Dispute) -> tuple[float, float, float, float]:
    """Give the upright box round a place, painting millimetres."""
    rows, columns = np.nonzero(dispute.mask)
    ends = np.array(
        [[columns.min() - 0.5, rows.min() - 0.5], [columns.max() + 0.5, rows.max() + 0.5]]
    )
    low, high = grid.mm_of(ends + np.array([dispute.box.left, dispute.box.top]))
    return (float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1]))


def _extent(grid: Grid, dispute: Dispute) -> tuple[tuple[float, float], tuple[float, float]]:
    """Middle, and length and width, millimetres."""
    rows, columns = np.nonzero(dispute.mask)
    points = np.stack([columns + dispute.box.left, rows + dispute.box.top], axis=-1).astype(float)
    middle = grid.mm_of(points.mean(axis=0))
    centred = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(centred.T @ centred)
    spans = np.ptp(centred @ axes, axis=0) + 1
    length = float(spans.max()) * grid.pixel
    width = len(points) * grid.pixel**2 / length
    return (float(middle[0]), float(middle[1])), (length, width)
