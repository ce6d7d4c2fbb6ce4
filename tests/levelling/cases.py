"""Scenes that the tests and the benchmark share, and what is measured on them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colormatch.levelling.applying import gain_fields
from colormatch.levelling.blank import BlankMap, blank_map
from colormatch.levelling.measuring import measure
from colormatch.levelling.records import PairSamples, TileGain
from colormatch.levelling.solving import Levels, solve
from tests.levelling.scenes import (
    Array,
    Light,
    Scene,
    View,
    blank_sheet,
    dark,
    difference,
    errors,
    scan_scene,
    smooth,
    tilt,
    together,
    unevenness,
    vignette,
)

WIDE = (320.0, 178.0)
"""A painting for two tiles side by side, overlapping by 44 mm (22 %)."""
LEFT, RIGHT = (10.0, 40.0), (-150.0, 41.0)
FROM, TO = 156.0, 200.0
"""Where the two tiles overlap on the painting, mm."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Levelled:
    """A scene with what levelling made of it."""

    scene: Scene
    pairs: tuple[PairSamples, ...]
    levels: Levels
    gains: tuple[TileGain, ...]


def level(scene: Scene, blank: BlankMap | None = None) -> Levelled:
    pairs = measure(scene.tiles)
    levels = solve(scene.tiles, pairs, blank=blank)
    gains = gain_fields(levels, scene.tiles)
    return Levelled(scene=scene, pairs=pairs, levels=levels, gains=gains)


def edge_shadow(depth: float, width: float, edge: float = FROM) -> Callable[[Array, Array], Array]:
    """Dark beside the edge at painting x = ``edge``, gone after about ``width`` mm."""

    def shadow(x: Array, y: Array) -> Array:
        far = np.maximum(x - edge, 0.0) + 0.0 * y
        return np.asarray(depth * (x >= edge) * np.exp(-((far / (0.6 * width)) ** 2)))

    return shadow


def two_views(*, strip: str | None = "lamp", second_strip: str | None = "same") -> list[View]:
    left = View(at=LEFT, strip=strip, window=(0.0, 25.0, 210.0, 297.0))
    other = strip if second_strip == "same" else second_strip
    right = View(
        at=RIGHT,
        slant=0.4,
        gain=(1.01, 1.0, 0.985),
        strip=other,
        window=(6.0, 25.0, 216.0, 297.0),
    )
    return [left, right]


def shared_light(depth: float = 0.05, rise: float = 0.02) -> Light:
    return together(vignette(depth, colour=0.05), tilt(rise))


def uneven_pair(
    seed: int,
    *,
    strip: str = "lamp",
    evened: bool = False,
    shadow: Callable[[Array, Array], Array] | None = None,
    fields: float = 0.0,
) -> Scene:
    """Two tiles, 5 % of vignetting, 2 % of tilt, a shadow seen by the second only."""
    rng = np.random.default_rng(seed)
    left, right = two_views(strip=strip)
    own = [smooth(rng, fields) if fields else dark for _ in range(2)]
    views = [replace(left, own=own[0]), replace(right, own=own[1], shadow=shadow)]
    return scan_scene(rng, WIDE, views, shared_light(), evened=evened)


def even_pair(seed: int) -> Scene:
    """Two tiles in even light, their gains known from their strips."""
    rng = np.random.default_rng(seed)
    return scan_scene(rng, WIDE, two_views(), dark, evened=True)


def pair_without_strip(seed: int, **light: float) -> Scene:
    """Leave the second tile without a strip, and give it other gains."""
    rng = np.random.default_rng(seed)
    left, right = two_views(second_strip=None)
    views = [left, replace(right, gain=(0.87, 0.95, 1.04))]
    return scan_scene(rng, WIDE, views, shared_light(**light))


def chain(seed: int, count: int = 6, fields: float = 0.002) -> Scene:
    """Narrow tiles in a row, each overlapping the next by 20 %, each with its strip."""
    rng = np.random.default_rng(seed)
    views = [
        View(
            at=(30.0 - 120.0 * k, 40.0 + 0.3 * k),
            slant=0.2 * (-1) ** k,
            own=smooth(rng, fields),
            strip="lamp",
            window=(30.0, 25.0, 180.0, 240.0),
        )
        for k in range(count)
    ]
    return scan_scene(rng, (120.0 * count + 30.0, 150.0), views, dark, evened=True)


def grid(seed: int, *, strips: Sequence[bool] = (True,) * 6) -> Scene:
    """Three by two tiles, the lower row turned half round on the glass."""
    rng = np.random.default_rng(seed)
    width, height = 470.0, 330.0
    views = []
    for k in range(6):
        column, row = k % 3, k // 3
        x, y = 10.0 - 140.0 * column, 40.0
        if row == 1:
            x, y = 206.0 + 140.0 * column, 40.0 + height
        views.append(
            View(
                at=(x, y),
                turns=2 * row,
                file_turns=k % 4,
                slant=0.1 * k,
                gain=(1.0 + 0.004 * k, 1.0, 1.0 - 0.004 * k),
                own=smooth(rng, 0.003),
                strip="lamp" if strips[k] else None,
                window=(6.0, 25.0, 210.0, 235.0),
            )
        )
    return scan_scene(rng, (width, height), views, shared_light())


def sheet(seed: int, light: Light | None = None) -> BlankMap:
    return blank_map(blank_sheet(np.random.default_rng(seed), light or shared_light()))


def seam_keep(scene: Scene, seam: float = (FROM + TO) / 2) -> list[NDArray[np.bool_]]:
    """Each place from one of two tiles, cut in the middle of their overlap."""
    return [p[..., 0] < seam if k == 0 else p[..., 0] >= seam for k, p in enumerate(scene.places)]


def unshaded(scene: Scene) -> list[NDArray[np.bool_]]:
    return [s < 1e-3 for s in scene.shaded]


def p95(result: Levelled, keep: Sequence[NDArray[np.bool_]]) -> float:
    return float(np.percentile(unevenness(result.scene, result.gains, keep=keep), 95))


def mean_errors(result: Levelled) -> Array:
    """Mean log error of each tile, percent, (tiles, 3)."""
    return np.array([100 * e.mean(axis=0) for e in errors(result.scene, result.gains)])


def normalised(result: Levelled) -> Array:
    """Errors over the uncertainty that was told, all places."""
    left = errors(result.scene, result.gains)
    return np.concatenate(
        [
            e.mean(axis=1) / g.sigma[t.valid]
            for e, g, t in zip(left, result.gains, result.scene.tiles, strict=True)
        ]
    )


def mean_de(scene: Scene, gains: Sequence[TileGain | None]) -> float:
    """Mean CIEDE2000 to the truth over all tiles, what all share included."""
    left = np.concatenate(errors(scene, gains))
    true = np.concatenate([t[k.valid] for t, k in zip(scene.truth, scene.tiles, strict=True)])
    return float(difference(true, left).mean())


def steps(result: Levelled) -> Array:
    """Mean difference of neighbours where they overlap, percent of light, (pairs,).

    Against the truth, not between the pictures: noise is no part of it.
    """
    fields = [
        light + np.log(gain.gain) - (0.0 if tile.lamp is None else np.log(tile.lamp)[..., None])
        for light, gain, tile in zip(
            result.scene.log_light, result.gains, result.scene.tiles, strict=True
        )
    ]
    taken = [e.mean() for e in errors(result.scene, result.gains)]
    found = []
    for pair in result.pairs:
        means = []
        for t, glass in ((pair.first, pair.glass_first), (pair.second, pair.glass_second)):
            tile = result.scene.tiles[t]
            field = fields[t].mean(axis=-1)
            field = field - field[tile.valid].mean() + taken[t]
            matrix = tile.scanner_mm_from_px
            pixels = (glass - matrix[:, 2]) @ np.linalg.inv(matrix[:, :2]).T
            column, row = np.round(pixels).astype(int).T
            means.append(field[row, column].mean())
        found.append(100 * (means[0] - means[1]))
    return np.array(found)
