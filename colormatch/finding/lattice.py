"""Where in a small picture the patches of a chart without marks may lie.

A chart is known by where its patches are and what colours they have. At every place, in
every quarter turn and a few slants, the grey values of the places where patches would be
are compared with a linear map of the colours expected there: no light, gain or mixture of
channels changes how well that fits. Neighbours of one colour, touching patches and dust
do not matter, for no border is looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.finding.agreement import AXES
from colormatch.finding.poses import applied
from colormatch.model import FloatArray, Layout

PATCH_PIXELS = 5.0
"""Side of the smallest patch in the picture that is searched; small, for speed."""

LEAST_PIXELS = 4.0
"""Side below which a patch is little more than its own blur, and the search slow."""

MOST_PATCHES = 64
"""Used in the search, spread over the chart."""

SLANT = 6.0
"""Degrees from a quarter turn within which a chart may lie."""

AT_REST = 0.25
"""Share of a patch's side by which a slant between two tried may move the outermost."""

LEAST_SHARE = 0.35
"""Of the variance of grey values that must be explained for a place to be likely."""

PLAIN = 0.015
"""Standard deviation of grey values below which a place shows no chart."""

KEPT = 24
"""Likely places at most."""

SAMPLED = (-0.44, 0.0, 0.44)
"""Shares of a patch's side, from its middle, that are read when a pose is improved."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Guess:
    """A likely pose: millimetres to pixels of the small picture, and the share explained."""

    px_from_mm: FloatArray
    score: float


class Design:
    """What the search needs of a chart.

    Parameters
    ----------
    layout : Layout
        The chart.
    expected : ndarray of shape (N, 3)
        Encoded colours; patches with NaN are not used.
    """

    def __init__(self, layout: Layout, expected: FloatArray) -> None:
        known = np.flatnonzero(np.isfinite(expected).all(axis=1))
        count = min(len(known), MOST_PATCHES)
        chosen = known[np.linspace(0, len(known) - 1, count).round().astype(int)]
        boxes = np.array([(p.x, p.y, p.width, p.height) for p in layout.patches])
        low, high = boxes[:, :2].min(axis=0), (boxes[:, :2] + boxes[:, 2:]).max(axis=0)
        self.layout = layout
        self.centre: FloatArray = (low + high) / 2
        self.half: FloatArray = (high - low) / 2
        self.side = float(boxes[:, 2:].min())
        self.middles: FloatArray = boxes[chosen, :2] + boxes[chosen, 2:] / 2
        self.sizes: FloatArray = boxes[chosen, 2:]
        self.basis = orthonormal(expected[chosen])

    def mirrored(self) -> FloatArray:
        """Give the map of the chart's millimetres onto themselves, left to right."""
        return np.array([[-1.0, 0.0, 2 * self.centre[0]], [0.0, 1.0, 0.0]])

    def slants(self) -> FloatArray:
        """Give the angles to try besides each quarter turn, degrees."""
        reach = float(np.hypot(*self.half))
        step = 2 * np.degrees(AT_REST * self.side / reach)
        count = int(np.ceil(2 * SLANT / step))
        return (np.arange(count) - (count - 1) / 2) * (2 * SLANT / count)


def orthonormal(expected: FloatArray) -> FloatArray:
    """Give an orthonormal basis (N, 4) of constants and expected colours, constants first."""
    terms = np.column_stack([np.ones(len(expected)), expected])
    basis: FloatArray = np.linalg.qr(terms)[0]
    return basis


def likely_places(
    grey: FloatArray, scale: float, design: Design, *, mirrored: bool = False
) -> list[Guess]:
    """Find the places whose grey values may be those of a chart.

    Parameters
    ----------
    grey : ndarray of float32, shape (H, W)
        The small picture, encoded, 0 to 1.
    scale : float
        Its pixels per millimetre, to a few percent.
    design : Design
        The chart.
    mirrored : bool, optional
        Whether to look for it in mirror image.

    Returns
    -------
    list of Guess
        Best first, `KEPT` at most.
    """
    import cv2

    if design.side * scale < LEAST_PIXELS:
        return []
    shrink = min(1.0, PATCH_PIXELS / (design.side * scale))
    height, width = (max(1, round(n * shrink)) for n in grey.shape)
    tiny = cv2.blur(cv2.resize(grey, (width, height), interpolation=cv2.INTER_AREA), (3, 3))
    ratio = np.array([width / grey.shape[1], height / grey.shape[0]])
    guesses: list[Guess] = []
    for turn in range(4):
        for slant in design.slants():
            pose = _turned(design, scale, 90.0 * turn + slant, mirrored=mirrored)
            small = np.diag(ratio) @ pose
            for place, score in _peaks(np.asarray(tiny), small, design):
                shift = (place + 0.5) / ratio - 0.5
                guesses.append(Guess(px_from_mm=_moved(pose, shift), score=score))
    return sorted(guesses, key=lambda guess: -guess.score)[:KEPT]


def _turned(design: Design, scale: float, degrees: float, *, mirrored: bool) -> FloatArray:
    """Give a pose that puts the chart's centre on the picture's first pixel."""
    angle = np.radians(degrees)
    turn = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    if mirrored:
        turn = turn @ np.diag([-1.0, 1.0])
    return np.column_stack([turn, -turn @ design.centre])


def _moved(pose: FloatArray, shift: FloatArray) -> FloatArray:
    return np.column_stack([pose[:, :2], pose[:, 2] + shift])


def _peaks(tiny: FloatArray, pose: FloatArray, design: Design) -> list[tuple[FloatArray, float]]:
    """Give the places of the chart's centre that explain most, and the share explained."""
    import cv2

    offsets = np.round(applied(pose, design.middles)).astype(int)
    first = np.maximum(-offsets.min(axis=0), 0)
    last = np.minimum(tiny.shape[1::-1] - offsets.max(axis=0), tiny.shape[1::-1])
    if (last <= first).any():
        return []
    share = _explained(tiny, offsets, first, last, design.basis)
    # Only one of the places round a maximum is worth a second look.
    around = np.ones((5, 5), np.uint8)
    best = (share >= np.asarray(cv2.dilate(share, around))) & (share > LEAST_SHARE)
    rows, columns = np.nonzero(best)
    order = np.argsort(-share[rows, columns])[:KEPT]
    return [
        (np.array([columns[i], rows[i]]) + first, float(share[rows[i], columns[i]])) for i in order
    ]


def _explained(
    tiny: FloatArray,
    offsets: NDArray[np.int_],
    first: NDArray[np.int_],
    last: NDArray[np.int_],
    basis: FloatArray,
) -> NDArray[np.float32]:
    """Share of the variance of the patches' grey values that a linear map explains.

    Shape (last - first): one value for each place of the chart's centre.
    """
    width, height = last - first
    values = np.empty((len(offsets), height * width), np.float32)
    for row, (x, y) in zip(values, offsets, strict=True):
        left, top = first[0] + x, first[1] + y
        row[:] = tiny[top : top + height, left : left + width].ravel()
    along = basis.T.astype(np.float32) @ values
    known = (along[1:] ** 2).sum(axis=0)
    total = np.ones(len(values), np.float32) @ np.square(values, out=values) - along[0] ** 2
    share = known / np.maximum(total, len(offsets) * PLAIN**2)
    return np.asarray(share.reshape(height, width), np.float32)


def improved(picture: FloatArray, guess: Guess, design: Design) -> Guess:
    """Move, turn and stretch a guess a little to where it explains most.

    Parameters
    ----------
    picture : ndarray of float32, shape (H, W, 3)
        The small picture.
    guess : Guess
        Off by a third of a patch at most.
    design : Design
        The chart.
    """
    rows = np.repeat(design.basis, len(SAMPLED) ** 2, axis=0) / len(SAMPLED)
    points = _spread_points(design)
    turn = AT_REST * design.side / float(np.hypot(*design.half))
    for reach in (1.0, 0.5, 0.25, 0.12):
        changes = _changes(reach * AT_REST * design.side, reach * turn)
        moved = np.einsum("kij,pj->kpi", changes[:, :, :2], points - design.centre)
        moved += changes[:, None, :, 2] + design.centre
        score = _colour_share(picture, applied(guess.px_from_mm, moved), rows)
        best = int(score.argmax())
        change = changes[best]
        shift = change[:, 2] + design.centre - change[:, :2] @ design.centre
        linear, old = guess.px_from_mm[:, :2], guess.px_from_mm[:, 2]
        pose = np.column_stack([linear @ change[:, :2], linear @ shift + old])
        guess = Guess(px_from_mm=pose, score=float(score[best]))
    return guess


def _spread_points(design: Design) -> FloatArray:
    """Give points over the inside of each patch, patch by patch, (P, 2), mm."""
    across, down = (part.ravel() for part in np.meshgrid(SAMPLED, SAMPLED))
    grid = np.column_stack([across, down])
    points: FloatArray = design.middles[:, None] + design.sizes[:, None] * grid
    return points.reshape(-1, 2)


def _changes(shift: float, turn: float) -> FloatArray:
    """Give maps (K, 2, 3) round the chart's centre: shifts in mm, turns and stretches."""
    steps = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
    x, y, angle, stretch = (
        part.ravel()
        for part in np.meshgrid(shift * steps, shift * steps, turn * steps[::2], turn * steps[::2])
    )
    linear = np.stack([1 + stretch, -angle, angle, 1 + stretch], axis=-1).reshape(-1, 2, 2)
    return np.concatenate([linear, np.stack([x, y], axis=-1)[..., None]], axis=2)


def _colour_share(picture: FloatArray, px: FloatArray, rows: FloatArray) -> FloatArray:
    """Share of the variance explained in all channels; ``px`` (K, P, 2); shape (K,)."""
    import cv2

    x, y = (np.ascontiguousarray(px[..., i], np.float32) for i in (0, 1))
    read = np.asarray(cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
    axes = read @ AXES.T.astype(np.float32)
    along = np.einsum("pb,kpc->kbc", rows.astype(np.float32), axes)
    total = np.einsum("kpc,kpc->kc", axes, axes) - along[:, 0] ** 2
    known = np.einsum("kbc,kbc->kc", along[:, 1:], along[:, 1:])
    share: FloatArray = known.sum(axis=1) / np.maximum(total.sum(axis=1), 1e-6)
    return share
