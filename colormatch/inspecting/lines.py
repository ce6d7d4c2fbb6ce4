"""Streaks along the carriage: lines of light that hold their column over the whole scan.

A painting's own lines end, lean or wander; the scanner's run over everything
that lies on the glass. So each part of the scan is
asked by itself, and what all parts agree on is the scanner's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray

FLOOR = 0.05
"""Encoded value below which darks are not told apart: noise would count as light."""
LEAST_LEVEL = 0.002
"""Least local unevenness assumed, share of light: no scan repeats better."""


@dataclass(frozen=True, kw_only=True)
class Streaking:
    """How streaks are told from paint.

    ``limit`` is percent of light: steps of 1 % along a straight line are seen in a print, and
    half of that in flat tones.
    """

    limit: float = 0.6
    background_mm: float = 1.5
    parts: int = 12
    surely: float = 6.0
    agreeing: float = 0.85
    like: tuple[float, float] = (0.55, 1.6)
    informative: int = 2
    spread: float = 0.4
    widest_mm: float = 0.8


STREAKING = Streaking()


def relative_light(encoded: FloatArray, power: float) -> FloatArray:
    """Give the logarithm of light, so that gains add: shape as given."""
    light: FloatArray = np.maximum(encoded, FLOOR)
    # In place: to be given fresh memory takes as long as the arithmetic.
    np.log(light, out=light)
    light *= np.float32(power)
    return light


def streaks(lines: FloatArray, power: float, px_per_mm: float, height_mm: float) -> Noticed:
    """Find lines along the carriage.

    Parameters
    ----------
    lines : ndarray of float32, shape (K, W, 3)
        Lines across the scan at full resolution, evenly spread, encoded.
    power : float
        Of the scan's tone curve.
    px_per_mm : float
        Along the lines.
    height_mm : float
        Of the scan.

    Returns
    -------
    Noticed
        Percent of light by which the worst streak differs from its sides.
    """
    rule = STREAKING
    off = relative_light(lines, power)
    wide = max(11, round(rule.background_mm * px_per_mm) | 1)
    off -= _blurred(off, wide)
    weight = _weight(off, wide)
    groups = np.array_split(np.arange(len(lines)), min(rule.parts, len(lines)))
    total = np.stack([weight[g[0] : g[-1] + 1].sum(axis=0) for g in groups])
    off *= weight
    mean = np.stack([off[g[0] : g[-1] + 1].sum(axis=0) for g in groups]) / total
    error = 1 / np.sqrt(total)
    return _streaks_in(mean, error, px_per_mm, height_mm)


def _weight(off: FloatArray, wide: int) -> FloatArray:
    """Give how flat it is round each place: one over the square of the local unevenness."""
    level = _blurred(off * off, 2 * wide + 1)
    # A running sum in floats may end a hair below nothing.
    np.maximum(level, 0.0, out=level)
    np.sqrt(level, out=level)
    level += np.float32(LEAST_LEVEL)
    level *= level
    return np.divide(1, level, out=level)


def _blurred(values: FloatArray, wide: int) -> FloatArray:
    import cv2

    return np.asarray(cv2.blur(values, (wide, 1), borderType=cv2.BORDER_REPLICATE))


def _streaks_in(mean: FloatArray, error: FloatArray, px_per_mm: float, height_mm: float) -> Noticed:
    """Keep the columns on which all parts agree; ``mean`` and ``error`` are (G, W, 3)."""
    rule = STREAKING
    precise = 1 / (error * error)
    whole = (mean * precise).sum(axis=0) / precise.sum(axis=0)
    sure = np.abs(whole) > np.maximum(
        rule.limit / 100 * 0.5, rule.surely / np.sqrt(precise.sum(axis=0))
    )
    telling = error < np.abs(whole) / 3
    ratio = mean / np.where(whole == 0, 1.0, whole)
    same = telling & (ratio > rule.like[0]) & (ratio < rule.like[1])
    agree = same.sum(axis=0) >= rule.agreeing * np.maximum(telling.sum(axis=0), rule.informative)
    agree &= _reach(same) >= rule.spread * len(mean)
    found = np.where(sure & agree, np.abs(whole), 0.0).max(axis=1)
    return _as_places(found, px_per_mm, height_mm)


def _reach(same: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Give the parts from the first to the last that agree, along the first axis."""
    first = np.argmax(same, axis=0)
    last = len(same) - 1 - np.argmax(same[::-1], axis=0)
    return np.asarray(np.where(same.any(axis=0), last - first + 1, 0))


def _as_places(found: FloatArray, px_per_mm: float, height_mm: float) -> Noticed:
    """Gather neighbouring columns; too wide a line is no streak."""
    rule = STREAKING
    on = np.flatnonzero(found)
    runs = np.split(on, np.flatnonzero(np.diff(on) > 2) + 1) if len(on) else []
    kept = [
        (float(found[run].max()) * 100, run)
        for run in runs
        if run[-1] - run[0] < rule.widest_mm * px_per_mm + 2
    ]
    kept = sorted((k for k in kept if k[0] > rule.limit), key=lambda k: -k[0])
    places = tuple(
        (float(run[0]) / px_per_mm, 0.0, float(run[-1] - run[0] + 1) / px_per_mm, height_mm)
        for _, run in kept[:12]
    )
    return Noticed(
        measure=kept[0][0] if kept else 0.0, limit=rule.limit, places=places, count=len(kept)
    )
