"""Sharpening: light and dark rims along an edge that is known to have none.

The strip carries a dark patch on bare paper. Across its sides the light rises
in one sweep from ink to paper, however soft the scanner is; only a filter makes
it overshoot. For a soft step, Phi(x/s), sharpened by an unsharp mask of amount
a and blur b, the edge is Phi(x/s) + a (Phi(x/s) - Phi(x/sqrt(s² + b²))), with Phi
the normal distribution, so that overshoot and largest modulation
max f: G_s(f) (1 + a (1 - G_b(f))), G the Gaussians' transforms, go together:
an overshoot of 6 to 9 % of the step is a modulation of 1.1, 10 to 12 % one of 1.2,
whatever s and b (0.6 to 1 and 0.5 to 4 pixels).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray, Patch

LIMIT = 6.0
"""Percent of the step: a modulation of 1.1, where FADGI 2016's 3-star level ends."""
GRAVE = 11.0
"""Percent of the step: a modulation of 1.2, where its 2-star level ends."""
REACH_MM = 2.0
"""Distance from the side that is looked at."""
RIM_MM, RIM_PX = 0.8, 4.0
"""Width of the rim in which halos are looked for: the larger of the two."""
BINS = 2
"""Bins per pixel across the edge."""
MIDDLE = 0.35
"""Half the share of a side's length that is read: the corners are round."""
LEAST_STEP = 0.2
"""Difference of encoded values below which there is no edge."""
LEAST_BINS = 6
"""Bins on each side beyond the rim, needed to know where ink and paper are."""


@dataclass(frozen=True, kw_only=True, eq=False)
class EdgeSpread:
    """The mean sweep across an edge, encoded.

    Attributes
    ----------
    px : ndarray of shape (B,)
        Distance from the edge, outwards, scan pixels.
    values : ndarray of shape (B,)
        Mean of the channels, encoded, 0 to 1.
    px_per_mm : float
        Scale of the scan there.
    """

    px: FloatArray
    values: FloatArray
    px_per_mm: float


def edge_spreads(
    values: FloatArray, origin: tuple[float, float], px_from_mm: FloatArray, patch: Patch
) -> list[EdgeSpread]:
    """Average the sweep across each of the four sides of a patch.

    Parameters
    ----------
    values : ndarray of shape (h, w)
        Mean of the channels, encoded, of a window round the patch.
    origin : tuple of float
        Scan pixel (x, y) of the window's first.
    px_from_mm : ndarray of shape (2, 3)
        Pose of the strip.
    patch : Patch
        With bare paper all round.
    """
    linear = px_from_mm[:, :2]
    rows, columns = np.indices(values.shape)
    places = np.stack([columns + origin[0], rows + origin[1]], axis=-1) - px_from_mm[:, 2]
    size = np.array([patch.width, patch.height])
    off = places @ np.linalg.inv(linear).T - (np.array([patch.x, patch.y]) + size / 2)
    scale = float(np.sqrt(abs(np.linalg.det(linear))))
    found = []
    for axis in (0, 1):
        along = np.abs(off[..., 1 - axis]) < MIDDLE * size[1 - axis]
        for way in (-1, 1):
            out = way * off[..., axis] - size[axis] / 2
            # A patch's own middle is not beyond any side.
            near = along & (np.abs(out) < min(REACH_MM, 0.45 * size[axis]))
            found.append(_binned(out[near] * scale, values[near], scale))
    return found


def _binned(distance: FloatArray, seen: FloatArray, scale: float) -> EdgeSpread:
    bins = np.round(distance * BINS).astype(int)
    first = int(bins.min(initial=0))
    counts = np.bincount(bins - first)
    sums = np.bincount(bins - first, weights=seen)
    kept = counts > 0
    return EdgeSpread(
        px=(np.flatnonzero(kept) + first) / BINS,
        values=sums[kept] / counts[kept],
        px_per_mm=scale,
    )


def halo(edges: Sequence[EdgeSpread], power: float) -> Noticed | None:
    """Measure how far the edges of a patch overshoot.

    Parameters
    ----------
    edges : sequence of EdgeSpread
        From ink to paper, outwards.
    power : float
        Of the scan's tone curve: light is the encoded value to this power.

    Returns
    -------
    Noticed or None
        Percent of the step: the median of the sides, as a spot may lie beside
        one or two. None where there is no edge.
    """
    found = [size for edge in edges if (size := _overshoot(edge, power)) is not None]
    # Of two sides the lesser: a filter makes rims on all.
    return (
        Noticed(measure=100 * sorted(found)[(len(found) - 1) // 2], limit=LIMIT) if found else None
    )


def _overshoot(edge: EdgeSpread, power: float) -> float | None:
    """Give the overshoot of one edge as a share of its step, the worse of two rims.

    On the paper in linear light, and on the ink in encoded values, as an
    overshoot of light may be cut off at white, one of ink at black.
    """
    if len(edge.values) < 2 * LEAST_BINS:
        return None
    rim = max(RIM_MM * edge.px_per_mm, RIM_PX)
    inner = (edge.px > -rim) & (edge.px < rim)
    ink, paper = edge.px <= -rim, edge.px >= rim
    if min(ink.sum(), paper.sum()) < LEAST_BINS:
        return None
    low, high = float(np.median(edge.values[ink])), float(np.median(edge.values[paper]))
    if high - low < LEAST_STEP:
        return None
    bright = edge.values[inner].max() ** power - high**power
    over = bright / (high**power - low**power)
    under = (low - edge.values[inner].min()) / (high - low)
    return max(float(over), float(under), 0.0)
