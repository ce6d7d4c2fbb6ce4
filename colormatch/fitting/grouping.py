"""Which tiles were scanned with the same tone curve."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from colormatch.fitting.readings import TileReadings
from colormatch.fitting.tone import ToneCurve, straight
from colormatch.model import FloatArray

CURVE_LIMIT = 0.02
"""Robust spread of the light ratio between two tiles above which curves differ.

Noise of printed patches stays below 1 %; an exponent of 2.2 against 1.8
spreads the ratios by more than 15 %.
"""
DARKEST = 0.03
"""Reference Y below which scattered light hides what the curve does."""


def group_by_curve(tiles: Sequence[TileReadings]) -> tuple[tuple[int, ...], ...]:
    """Group tiles whose patches differ by plain gains only, the largest first.

    Parameters
    ----------
    tiles : sequence of TileReadings

    Returns
    -------
    tuple of tuple of int
        Indices into ``tiles``.
    """
    groups: list[list[int]] = []
    for index, tile in enumerate(tiles):
        home = next((g for g in groups if same_curve(tiles[g[0]], tile)), None)
        if home is None:
            groups.append([index])
        else:
            home.append(index)
    return tuple(tuple(g) for g in sorted(groups, key=len, reverse=True))


def same_curve(a: TileReadings, b: TileReadings) -> bool:
    """Whether one tone curve and three gains explain both tiles' patches."""
    spread = ratio_spread(a, b)
    noise = float(np.hypot(np.median(a.noise), np.median(b.noise)))
    return spread is None or spread < max(CURVE_LIMIT, 4 * noise)


def ratio_spread(a: TileReadings, b: TileReadings) -> float | None:
    """Robust spread of log light ratios that gains and fall-off leave over.

    None when the two show too few of the same patches to tell.
    """
    here, there = common_rows(a, b, DARKEST)
    if len(here) < 6:
        return None
    curve = grey_curve(a)
    light_a, light_b = curve.linear(a.rgb[here]), curve.linear(b.rgb[there])
    ratio = np.log(np.maximum(light_b, 1e-4) / np.maximum(light_a, 1e-4))
    along = a.along[here]
    smooth = np.column_stack([np.ones_like(along), along, along**2])
    left = ratio - smooth @ np.linalg.lstsq(smooth, ratio, rcond=None)[0]
    return float(np.median(np.abs(left - np.median(left))) * 1.4826)


def common_rows(a: TileReadings, b: TileReadings, darkest: float) -> tuple[list[int], list[int]]:
    """Rows of the patches both tiles show whose reference Y exceeds ``darkest``."""
    rows = {name: i for i, name in enumerate(a.ids) if a.xyz[i, 1] > darkest}
    pairs = [(rows[name], j) for j, name in enumerate(b.ids) if name in rows]
    return [i for i, _ in pairs], [j for _, j in pairs]


def grey_curve(tile: TileReadings) -> ToneCurve:
    """Give the plain power that the tile's greys follow."""
    return ToneCurve(exponent=grey_exponent(tile), bend=straight())


def grey_exponent(tile: TileReadings) -> float:
    """Exponent of the power through the greys, 0.9 to 3.5; 2.2 if too few show."""
    grey = tile.neutral & (tile.rgb.min(axis=1) > 0.03) & (tile.xyz[:, 1] > 0)
    if grey.sum() < 3:
        return 2.2
    level: FloatArray = np.log(tile.rgb[grey].mean(axis=1))
    slope = np.polyfit(level, np.log(tile.xyz[grey, 1]), 1)[0]
    return float(np.clip(slope, 0.9, 3.5))
