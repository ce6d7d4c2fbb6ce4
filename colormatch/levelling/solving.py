"""All tiles' light in one solve: overlaps, strips and the blank sheet together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colormatch.errors import InputError
from colormatch.levelling.blank import BlankMap
from colormatch.levelling.geometry import glass_axes, mapped
from colormatch.levelling.local import local_differences
from colormatch.levelling.measuring import lamp_at
from colormatch.levelling.records import STRIP_COMMON, LevelTile, PairSamples
from colormatch.levelling.robust import Block, Fit, fit, likeliest_fit
from colormatch.levelling.terms import MOST_UNKNOWNS, PARTS_FROM_RGB, Area, Spreads, Terms
from colormatch.model import FloatArray

FIELD_SPACING = 20.0
"""Knots of the smooth fields, mm; wider where there is little to see."""
FIELD_FEW = 300
"""With fewer samples per tile the knots are half again as far apart."""
FIELD_CELL = 25.0
"""Means over cells this wide, mm, tell how large the smooth fields are."""
FIELD_LEAST = (0.006, 0.002)
FIELD_MOST = (0.02, 0.004)
LATER_CUTS = (0.0, 0.0, 0.0)
WITH_BLANK = Spreads(
    profile=(0.005, 0.001),
    profile_odd=(0.004, 0.001),
    profile_bend=(0.001, 0.0003),
    carriage=(0.004, 0.001),
    drift=(0.005, 0.001),
)
"""What a blank sheet leaves open: little of what is fixed, a tile's own drift."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Levels:
    """The light of all tiles, solved.

    Attributes
    ----------
    terms : Terms
        Which unknown is what.
    spreads : Spreads
        What was believed of each term beforehand.
    fit : Fit
        Unknowns, uncertainty, scales.
    blocks : tuple of Block
        One per overlap, then one per strip.
    blank : BlankMap or None
        The light of the blank sheet, on top of the terms.
    """

    terms: Terms
    spreads: Spreads
    fit: Fit
    blocks: tuple[Block, ...]
    blank: BlankMap | None


def solve(
    tiles: Sequence[LevelTile],
    pairs: Sequence[PairSamples],
    *,
    blank: BlankMap | None = None,
    spreads: Spreads | None = None,
) -> Levels:
    """Solve gains, the shared lamp profile, carriage drift and smooth fields.

    Robust joint least squares in log light. A first solve without the smooth
    fields is stiff enough to tell local differences (shadows, lifted places),
    which are left out together with their rims; how much it leaves
    unexplained sets how large the smooth fields may be.

    Parameters
    ----------
    tiles : sequence of LevelTile
        At least one.
    pairs : sequence of PairSamples
        From `measure`; may be empty.
    blank : BlankMap, optional
        From `blank_map`.
    spreads : Spreads, optional
        What is believed of each term beforehand; with a blank sheet little is
        left open by default.

    Returns
    -------
    Levels

    Raises
    ------
    InputError
        If there is no tile.
    """
    if not tiles:
        raise InputError("levelling needs at least one tile; give the scans to merge")
    believed = spreads or (Spreads() if blank is None else WITH_BLANK)
    areas = [area_of(tile) for tile in tiles]
    strips = [STRIP_COMMON if t.anchors is None else t.anchors.common for t in tiles]
    stiff = Terms.over(areas, strips, field_spacing=None)
    blocks = _blocks(stiff, tiles, pairs, blank)
    first = likeliest_fit(blocks, _priors(stiff, believed))
    trusted = [local_differences(p, blocks[k], first, first.scales[k]) for k, p in enumerate(pairs)]
    blocks = _trusting(blocks, trusted)
    first = fit(blocks, _priors(stiff, believed), start=first.unknowns, cuts=LATER_CUTS)
    believed = replace(believed, field=field_spread(pairs, blocks, first, believed))
    return _with_fields(tiles, pairs, blank, stiff, believed, trusted, first)


def _with_fields(
    tiles: Sequence[LevelTile],
    pairs: Sequence[PairSamples],
    blank: BlankMap | None,
    stiff: Terms,
    believed: Spreads,
    trusted: Sequence[NDArray[np.bool_]],
    first: Fit,
) -> Levels:
    """Solve again with a smooth field per tile, from the stiff solution on."""
    spacing = field_spacing(stiff.areas, sum(len(p.sigma) for p in pairs))
    terms = Terms.over(stiff.areas, stiff.strips, field_spacing=spacing)
    blocks = _trusting(_blocks(terms, tiles, pairs, blank), trusted)
    start = np.zeros((terms.size, 3))
    start[: stiff.size] = first.unknowns
    found = fit(blocks, _priors(terms, believed), start=start, cuts=LATER_CUTS[:2])
    return Levels(terms=terms, spreads=believed, fit=found, blocks=tuple(blocks), blank=blank)


def area_of(tile: LevelTile) -> Area:
    """Extent on the glass of a tile's painting and strip."""
    axes = glass_axes(tile)
    valid = tile.valid.T if axes.turned else tile.valid
    lamp = axes.lamp[np.flatnonzero(valid.any(axis=0))]
    way = axes.carriage[np.flatnonzero(valid.any(axis=1))]
    if len(lamp) == 0:
        raise InputError(f"{tile.name}: nothing of the painting is marked as valid")
    if tile.anchors is not None:
        glass = mapped(np.asarray(tile.scanner_mm_from_px, dtype=float), tile.anchors.points)
        lamp, way = np.append(lamp, glass[:, 0]), np.append(way, glass[:, 1])
    return Area(
        lamp=(float(lamp.min()), float(lamp.max())),
        way=(float(way.min()), float(way.max())),
        scan=(float(axes.lamp.min()), float(axes.lamp.max())),
    )


def field_spacing(areas: Sequence[Area], samples: int) -> float:
    """Distance of the fields' knots: wider for few samples and for many tiles."""
    spacing = FIELD_SPACING * (1.5 if samples < FIELD_FEW * len(areas) else 1.0)
    while True:
        unknowns = sum(
            ((a.lamp[1] - a.lamp[0]) / spacing + 3) * ((a.way[1] - a.way[0]) / spacing + 3)
            for a in areas
        )
        if unknowns <= MOST_UNKNOWNS or spacing > 80.0:
            return spacing
        spacing *= 1.05


def _priors(terms: Terms, spreads: Spreads) -> tuple[FloatArray, FloatArray]:
    return terms.prior(spreads, 0), terms.prior(spreads, 1)


def _blocks(
    terms: Terms,
    tiles: Sequence[LevelTile],
    pairs: Sequence[PairSamples],
    blank: BlankMap | None,
) -> list[Block]:
    overlaps = [_pair_block(terms, pair, blank) for pair in pairs]
    strips = [_strip_block(terms, t, tile, blank) for t, tile in enumerate(tiles) if tile.anchors]
    return overlaps + strips


def _pair_block(terms: Terms, pair: PairSamples, blank: BlankMap | None) -> Block:
    """Equations of one overlap: first tile's light less the second's."""
    one, plus = terms.rows(pair.first, pair.glass_first)
    two, minus = terms.rows(pair.second, pair.glass_second)
    columns = np.union1d(one, two)
    design = np.zeros((len(pair.sigma), len(columns)))
    design[:, np.searchsorted(columns, one)] += plus
    design[:, np.searchsorted(columns, two)] -= minus
    ratio = pair.ratio + pair.lamp_ratio[:, None]
    if blank is not None:
        ratio = ratio - blank.log_light(pair.glass_first) + blank.log_light(pair.glass_second)
    return Block(
        columns=columns,
        design=design,
        parts=ratio @ PARTS_FROM_RGB.T,
        sigma=pair.sigma,
        trusted=np.ones(len(pair.sigma), dtype=bool),
    )


def _strip_block(terms: Terms, index: int, tile: LevelTile, blank: BlankMap | None) -> Block:
    """Equations of one strip: the tile's light there, and the strip's own error."""
    anchors = tile.anchors
    if anchors is None:
        raise InputError(f"{tile.name} has no strip")
    glass = mapped(np.asarray(tile.scanner_mm_from_px, dtype=float), anchors.points)
    columns, design = terms.rows(index, glass)
    residual = anchors.residual + lamp_at(tile, anchors.points)[:, None]
    if blank is not None:
        residual = residual - blank.log_light(glass)
    return Block(
        columns=np.append(columns, terms.first_strip + index),
        design=np.column_stack([design, np.ones(len(design))]),
        parts=residual @ PARTS_FROM_RGB.T,
        sigma=np.asarray(anchors.sigma, dtype=float),
        trusted=np.ones(len(design), dtype=bool),
        anchor=True,
    )


def _trusting(blocks: Sequence[Block], trusted: Sequence[NDArray[np.bool_]]) -> list[Block]:
    """Leave out places of the overlaps, which come first."""
    overlaps = [replace(b, trusted=t) for b, t in zip(blocks, trusted, strict=False)]
    return overlaps + list(blocks[len(trusted) :])


def field_spread(
    pairs: Sequence[PairSamples], blocks: Sequence[Block], first: Fit, believed: Spreads
) -> tuple[float, float]:
    """How large smooth fields must be to explain what the stiff terms leave.

    Means over wide cells keep the fields and lose the noise; two tiles'
    fields add up in a ratio.
    """
    squares: list[FloatArray] = []
    for k, pair in enumerate(pairs):
        left = blocks[k].remaining(first.unknowns)
        keep = blocks[k].trusted
        noise = first.scales[k] * pair.sigma
        squares += _cell_squares(pair.places[keep], left[keep], noise[keep])
    if not squares:
        return FIELD_LEAST
    mean = np.mean(squares, axis=0) / 2
    sizes = np.sqrt(np.clip([mean[0], mean[1:].mean()], 0, None))
    low, high = np.array(FIELD_LEAST), np.minimum(FIELD_MOST, believed.field)
    spread = np.clip(2.0 * sizes, np.minimum(low, high), high)
    return float(spread[0]), float(spread[1])


def _cell_squares(places: FloatArray, left: FloatArray, noise: FloatArray) -> list[FloatArray]:
    """Squared means of cells, less what noise alone would give."""
    cells = np.floor(places / FIELD_CELL).astype(int)
    _, label = np.unique(cells, axis=0, return_inverse=True)
    label = label.ravel()
    weight = noise**-2.0
    total = np.bincount(label, weight)
    count = np.bincount(label)
    means = np.stack([np.bincount(label, weight * left[:, k]) / total for k in range(3)], axis=1)
    expected = 4.0 / total
    return [row**2 - e for row, e, n in zip(means, expected, count, strict=True) if n >= 8]
