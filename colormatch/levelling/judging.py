"""What levelling did, in figures and sentences for the report."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from colormatch.levelling.geometry import mapped
from colormatch.levelling.panels import product
from colormatch.levelling.records import (
    LevelReport,
    LevelTile,
    PairLevel,
    PairSamples,
    TileGain,
    TileLevel,
    Unevenness,
)
from colormatch.levelling.solving import Levels
from colormatch.levelling.terms import PARTS_FROM_RGB, RGB_FROM_PARTS, lamp_extent
from colormatch.model import FloatArray

UNSEEN_RAMP = 0.008
"""A ramp known no better than this from end to end, log light, one sigma, counts as unseen."""
RAMPS = (
    "from one end of the lamp to the other",
    "from the start to the end of the carriage's way",
)
MUCH_LEFT_OUT = 0.5
"""Share of an overlap left out that the report mentions."""
STRONG_PROFILE = 9.0
"""Percent of fall-off along the lamp that ought to be checked with a blank sheet."""
GRID = 41
"""Places along each axis at which the terms' spans are taken."""


def level_report(
    levels: Levels,
    tiles: Sequence[LevelTile],
    pairs: Sequence[PairSamples],
    gains: Sequence[TileGain],
    xyz_from_rgb: FloatArray,
) -> LevelReport:
    """Judge the levelling.

    Parameters
    ----------
    levels : Levels
        From `solve`.
    tiles, pairs : sequence
        What it was solved from.
    gains : sequence of TileGain
        From `gain_fields`.
    xyz_from_rgb : ndarray of shape (3, 3)
        From the tiles' light to XYZ (D50, Y of the perfect diffuser 1).

    Returns
    -------
    LevelReport
        Unevenness of the overlaps before and after, what each term did, and
        what had to be assumed.
    """
    ties = _ties(tiles, pairs)
    levelled = tuple(
        _tile_level(levels, tile, t, ties[t], gains[t]) for t, tile in enumerate(tiles)
    )
    judged = tuple(
        _pair_level(levels, pair, block.trusted, xyz_from_rgb)
        for pair, block in zip(pairs, levels.blocks, strict=False)
    )
    assumptions = [
        *_ramps(levels),
        *_levels_taken(levelled),
        *_alone(tiles, pairs),
        *_shaded(tiles, judged),
        *_strong(levels, levelled),
    ]
    return LevelReport(pairs=judged, tiles=levelled, assumptions=tuple(assumptions))


def _pair_level(
    levels: Levels, pair: PairSamples, trusted: NDArray[np.bool_], xyz_from_rgb: FloatArray
) -> PairLevel:
    light = [
        _modelled(levels, t, glass)
        for t, glass in ((pair.first, pair.glass_first), (pair.second, pair.glass_second))
    ]
    after = pair.ratio + pair.lamp_ratio[:, None] - light[0] + light[1]
    given = _unevenness(pair.light, pair.ratio, xyz_from_rgb)
    uneven = _unevenness(pair.light, after, xyz_from_rgb)
    return PairLevel(
        first=pair.first,
        second=pair.second,
        before=_figures(*given),
        after=_figures(*uneven),
        agreeing=_figures(*(u[trusted] for u in uneven)),
        left_out=float(np.mean(~trusted)),
        places=pair.places,
        remaining=after,
        de_before=given[1],
        de_after=uneven[1],
        trusted=trusted,
    )


def _modelled(levels: Levels, tile: int, glass: FloatArray) -> FloatArray:
    """Log light (N, 3) of a tile at places on the glass as solved."""
    columns, design = levels.terms.rows(tile, glass)
    light = product(design, levels.fit.unknowns[columns]) @ RGB_FROM_PARTS.T
    if levels.blank is not None:
        light = light + levels.blank.log_light(glass)
    return np.asarray(light)


def _unevenness(
    light: FloatArray, ratio: FloatArray, xyz_from_rgb: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Percent of light and CIEDE2000 between two tiles, (N,) each."""
    lab = [lab_from_xyz(light * np.exp(s * ratio / 2) @ xyz_from_rgb.T) for s in (1, -1)]
    return 100 * np.abs(np.expm1(ratio.mean(axis=1))), delta_e_2000(*lab)


def _figures(percent: FloatArray, de: FloatArray) -> Unevenness:
    if len(percent) == 0:
        return Unevenness(mean_percent=np.nan, p95_percent=np.nan, mean_de=np.nan, p95_de=np.nan)
    return Unevenness(
        mean_percent=float(percent.mean()),
        p95_percent=float(np.percentile(percent, 95)),
        mean_de=float(de.mean()),
        p95_de=float(np.percentile(de, 95)),
    )


def _tile_level(
    levels: Levels,
    tile: LevelTile,
    index: int,
    tied_to: str,
    gain: TileGain,
) -> TileLevel:
    area = levels.terms.areas[index]
    lamp, way = np.linspace(*area.lamp, GRID), np.linspace(*area.way, GRID)
    terms = levels.terms.on_grid(index, lamp, way, levels.fit.unknowns)
    blank = np.zeros((1, 1, 3)) if levels.blank is None else levels.blank.on_grid(lamp, way)
    excess = -np.log(gain.gain[tile.valid]).mean(axis=0)
    return TileLevel(
        name=tile.name,
        tied_to=tied_to,
        gain_percent=tuple(float(x) for x in 100 * np.expm1(excess)),  # type: ignore[arg-type]
        profile_percent=_span(terms["profile"][..., 0]),
        carriage_percent=_span(terms["carriage"][..., 0]),
        field_percent=_span(terms["field"][..., 0]),
        blank_percent=_span((blank @ PARTS_FROM_RGB.T)[..., 0]),
        level_sigma_percent=100 * _level_sigma(levels, tile, index),
        largest_sigma_percent=100 * float(gain.sigma[tile.valid].max()),
    )


def _span(values: FloatArray) -> float:
    return 100 * float(np.expm1(float(values.max()) - float(values.min())))


def _level_sigma(levels: Levels, tile: LevelTile, index: int) -> float:
    """Uncertainty of the mean log light over a tile's painting, one sigma."""
    rows, columns = np.nonzero(tile.valid)
    step = max(1, len(rows) // 500)
    pixels = np.column_stack([columns[::step], rows[::step]]).astype(float)
    glass = mapped(np.asarray(tile.scanner_mm_from_px, dtype=float), pixels)
    touched, design = levels.terms.rows(index, glass)
    variance = levels.fit.variances(touched, design.mean(axis=0)[None])
    return float(np.sqrt(variance[0]))


def _ties(tiles: Sequence[LevelTile], pairs: Sequence[PairSamples]) -> list[str]:
    """Tell what each tile's level is tied to."""
    tied = {t for t, tile in enumerate(tiles) if tile.anchors is not None}
    strips = set(tied)
    for _ in tiles:
        for pair in pairs:
            if {pair.first, pair.second} & tied:
                tied |= {pair.first, pair.second}
    return [
        "strip" if t in strips else "neighbours" if t in tied else "nothing"
        for t in range(len(tiles))
    ]


def _ramps(levels: Levels) -> list[str]:
    """Ramps that all tiles may share and that nothing shows."""
    if levels.blank is not None:
        return []
    terms = levels.terms
    ends = terms.profile.design(np.array(lamp_extent(terms.areas)))
    lamp = np.zeros(terms.size)
    lamp[len(terms.areas) : terms.first_carriage] = ends[1] - ends[0]
    way = np.zeros(terms.size)
    way[terms.first_carriage] = 2.0
    way[terms.first_drift : terms.first_strip : 2] = 2.0 / len(terms.areas)
    sentences = []
    for ramp, where in zip((lamp, way), RAMPS, strict=True):
        sigma = float(np.sqrt(levels.fit.factors[0].variances(ramp[None])[0]))
        if sigma > UNSEEN_RAMP:
            sentences.append(
                f"whether the light changes {where} in all tiles alike cannot be seen in these "
                f"scans; it may do so by ±{100 * sigma:.1f} % more than was found; a blank "
                "sheet (--blank) or one tile scanned upside down would show it"
            )
    return sentences


def _levels_taken(tiles: Sequence[TileLevel]) -> list[str]:
    sentences = []
    for tile in tiles:
        if tile.tied_to == "neighbours":
            sentences.append(
                f"{tile.name} has no strip: its colour comes through its neighbours and is known "
                f"to ±{tile.level_sigma_percent:.1f} % of light; put the strip beside it and "
                "scan again if that is too little"
            )
        elif tile.tied_to == "nothing":
            sentences.append(
                f"{tile.name} has no strip and no overlap with a tile that has one: its level was "
                "left as it is; scan it again with the strip beside it"
            )
    return sentences


def _alone(tiles: Sequence[LevelTile], pairs: Sequence[PairSamples]) -> list[str]:
    """Tiles without any usable overlap."""
    if len(tiles) < 2:
        return []
    seen = {t for pair in pairs for t in (pair.first, pair.second)}
    return [
        f"{tile.name} shares too little light enough painting with any other tile to compare "
        "them: it was levelled by its strip and the others' lamp profile alone"
        for t, tile in enumerate(tiles)
        if t not in seen and tile.anchors is not None
    ]


def _shaded(tiles: Sequence[LevelTile], pairs: Sequence[PairLevel]) -> list[str]:
    """Overlaps of which little could be compared."""
    return [
        f"{100 * pair.left_out:.0f} % of the overlap of {tiles[pair.first].name} and "
        f"{tiles[pair.second].name} differs locally (shadow, lifted from the glass, dust) and "
        "was left out; if they do not fit, press the painting flat there and scan again"
        for pair in pairs
        if pair.left_out > MUCH_LEFT_OUT
    ]


def _strong(levels: Levels, tiles: Sequence[TileLevel]) -> list[str]:
    """Doubt a lamp profile that a lifted edge may have feigned."""
    found = max(tile.profile_percent for tile in tiles)
    if levels.blank is not None or found <= STRONG_PROFILE:
        return []
    return [
        f"the light seems to change by {found:.0f} % along the lamp, more than most scanners' "
        "does: paint that does not touch the glass at the rim of an overlap can look the same; "
        "scan a blank sheet (--blank) to be sure"
    ]
