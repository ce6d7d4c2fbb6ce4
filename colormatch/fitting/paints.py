"""The painter's own paints: they join the strip in the fit, with a weight of their own.

Inks and paints of one colour have other spectra, so three channels cannot serve both.
The strip fixes curve, gains and scattered light; which map leads from there to colour is
fitted to strip and paints together, once for each weight of the strip and each strength
of the tie to the 3x3, and judged on every paint left out in turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import metric_roots
from colormatch.fitting.judging import difference
from colormatch.fitting.maps import ColourMap, Hull, plain_map, shares, squared_roots
from colormatch.fitting.matrix import matrix_design
from colormatch.fitting.misses import miss_size
from colormatch.fitting.problem import MODEL_ERROR, Solution
from colormatch.fitting.readings import TileReadings
from colormatch.fitting.solving import typical_error
from colormatch.model import FloatArray

MEASURED = 0.3
"""What a reading of a painted swatch is off, CIEDE2000, one sigma."""
STRIP_WEIGHTS = (1.0, 0.5, 0.25, 0.1)
"""How much an ink patch may count against a paint, tried in turn."""
TIES = (1.0, 3.0, 10.0, 30.0, 100.0)
"""How firmly a root-polynomial is held to the 3x3: CIEDE2000 per unit of its factors."""
ALIKE = 1.02
"""Left-out errors within 2 % are alike: the heavier strip and the firmer tie are taken."""
DOUBTFUL = 4.0
"""Times the usual error beyond which a row counts less: a wrong number, a smear."""
PLENTY = 12
"""Paints from which a root-polynomial, which has nine factors more, is tried."""
NEARLY_WHITE = 0.97
"""Greys lighter than this share of the lightest are the paper."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Rows:
    """Ink patches and paints, one row each, under one even light.

    Attributes
    ----------
    ids : tuple of str
    light, xyz : ndarray of shape (N, 3)
        Linear light in the solution's scale, and reference colours.
    sigma : ndarray of shape (N,)
        What each row is expected to be off, CIEDE2000.
    paint : ndarray of bool, shape (N,)
    white : ndarray of shape (3,)
        Light of the strip's paper.
    paper : ndarray of bool, shape (N,)
        Rows that are that paper.
    trust : ndarray of shape (N,)
        Robust weight of each row, 0 to 1.
    """

    ids: tuple[str, ...]
    light: FloatArray
    xyz: FloatArray
    sigma: FloatArray
    paint: NDArray[np.bool_]
    white: FloatArray
    paper: NDArray[np.bool_]
    trust: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class MapFit:
    """One map, and how far off it is; rows as in `Rows`.

    Attributes
    ----------
    map : ColourMap
    fitted, left_out : ndarray of shape (N,)
        CIEDE2000 with each row in the fit, and with it left out.
    left_out_xyz : ndarray of shape (N, 3)
        What the map makes of each row that it has not seen.
    strip_weight, tie : float
        Which of `STRIP_WEIGHTS` and `TIES` were taken; 0 where there was no choice.
    """

    map: ColourMap
    fitted: FloatArray
    left_out: FloatArray
    left_out_xyz: FloatArray
    strip_weight: float
    tie: float


def rows_of(
    tiles: Sequence[TileReadings], solution: Solution, paints: TileReadings, scan: int
) -> Rows:
    """Bring strip and paints under one light; ``scan`` is the tile that shows the paints."""
    found: dict[str, list[tuple[FloatArray, FloatArray, float, bool]]] = {}
    for t, tile in enumerate(tiles):
        even = even_light(solution, t, tile)
        for row in zip(tile.ids, even, tile.xyz, tile.noise, tile.neutral, strict=True):
            found.setdefault(row[0], []).append(row[1:])
    light = np.array([np.mean([one[0] for one in group], axis=0) for group in found.values()])
    xyz = np.array([group[0][1] for group in found.values()])
    noise: FloatArray = np.array([np.mean([o[2] for o in group]) for group in found.values()])
    neutral = np.array([group[0][3] for group in found.values()])
    paper, missed = paper_rows(xyz, neutral), miss_size(xyz, neutral)
    rows = Rows(
        ids=(*found, *paints.ids),
        light=np.concatenate([light, even_light(solution, scan, paints)]),
        xyz=np.concatenate([xyz, paints.xyz]),
        sigma=np.concatenate(
            [
                expected_error(xyz, noise, MODEL_ERROR * np.where(paper, 0.0, missed)),
                expected_error(paints.xyz, paints.noise, MODEL_ERROR),
            ]
        ),
        paint=np.arange(len(light) + len(paints.ids)) >= len(light),
        white=light[paper].mean(axis=0),
        paper=np.concatenate([paper, np.zeros(len(paints.ids), dtype=bool)]),
        trust=np.ones(len(light) + len(paints.ids)),
    )
    return replace(rows, trust=trusted(rows, solution.xyz_from_rgb))


def even_light(solution: Solution, tile: int, readings: TileReadings) -> FloatArray:
    """Linear light of readings, scatter and fall-off taken out, shape (N, 3)."""
    around = readings.surroundings
    if around is None:
        surround: FloatArray = np.zeros((len(readings.rgb), len(solution.scatter), 3))
    else:
        surround = around.at(around.maps(solution.curve.linear), readings.points)
    light = solution.light(tile, readings.rgb, surround)
    result: FloatArray = light / solution.lamp(tile, readings.along)[:, None]
    return result


def paper_rows(xyz: FloatArray, neutral: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which rows are the strip's paper, or the lightest thing there is."""
    grey = neutral if neutral.any() else np.ones(len(xyz), dtype=bool)
    lightest = xyz[grey, 1].max()
    return np.asarray(grey & (xyz[:, 1] >= NEARLY_WHITE * lightest))


def expected_error(
    xyz: FloatArray, noise: FloatArray, model_error: float | FloatArray
) -> FloatArray:
    """One sigma of rows: what three channels cannot tell, the reading, the reference."""
    moved = np.linalg.norm(np.einsum("nij,nj->ni", metric_roots(xyz), xyz), axis=1) * noise
    result: FloatArray = np.sqrt(model_error**2 + MEASURED**2 + moved**2)
    return result


def strip_fit(rows: Rows, xyz_from_rgb: FloatArray) -> MapFit:
    """Judge the strip's own 3x3: no paint has been in its fit."""
    roots = metric_roots(rows.xyz) / rows.sigma[:, None, None]
    fitted = rows.light @ xyz_from_rgb.T
    ink = ~rows.paint
    error = np.einsum("nij,nj->ni", roots, fitted - rows.xyz)
    out: FloatArray = fitted.copy()
    design = matrix_design(rows.light[ink], roots[ink])
    out[ink] = rows.xyz[ink] + unrooted(roots[ink], left_out_errors(design, error[ink]))
    return MapFit(
        map=plain_map(xyz_from_rgb, rows.white),
        fitted=difference(fitted, rows.xyz),
        left_out=difference(out, rows.xyz),
        left_out_xyz=out,
        strip_weight=0.0,
        tie=0.0,
    )


def paint_matrix(rows: Rows, xyz_from_rgb: FloatArray) -> MapFit:
    """Fit a 3x3 to strip and paints; the paper counts as much as a paint."""
    return _best(rows, xyz_from_rgb, rows.light / rows.white, ties=(0.0,))


def paint_hull(rows: Rows) -> Hull | None:
    """Give the hull of the paints' and the paper's hues; None if they lie along one line."""
    _, part = shares(rows.light, rows.white)
    return Hull.around(np.concatenate([part[rows.paint], [[1 / 3, 1 / 3]]]))


def hull_without_each(rows: Rows, hull: Hull) -> FloatArray:
    """How far each row's hue would be trusted had it not widened the hull, (N,) 0 to 1."""
    _, part = shares(rows.light, rows.white)
    trust = hull.trust(part)
    paints = np.flatnonzero(rows.paint)
    for row in paints:
        others = part[paints[paints != row]]
        smaller = Hull.around(np.concatenate([others, [[1 / 3, 1 / 3]]]))
        trust[row] = 0.0 if smaller is None else smaller.trust(part[row])
    return trust


def root_polynomial(rows: Rows, plain: MapFit, hull: Hull) -> MapFit:
    """Fit a root-polynomial that becomes the 3x3 ``plain`` outside the paints' hull.

    The paper, and every grey of its hue, comes out as it was measured.
    """
    return _best(rows, plain.map.matrix, rich(rows), ties=TIES, outside=(plain, hull))


def white_kept(rows: Rows, xyz_from_rgb: FloatArray) -> FloatArray:
    """Scale a matrix so that the strip's paper comes out as it was measured."""
    scale = rows.xyz[rows.paper].mean(axis=0) / (xyz_from_rgb @ rows.white)
    result: FloatArray = scale[:, None] * xyz_from_rgb
    return result


def opponents(rows: Rows) -> FloatArray:
    """Red minus green and blue minus green relative to the paper: none for its hue."""
    relative = rows.light / rows.white
    return np.stack([relative[:, 0] - relative[:, 1], relative[:, 2] - relative[:, 1]], axis=1)


def rich(rows: Rows) -> FloatArray:
    """All that a root-polynomial adds to a matrix that keeps the paper, (N, 5)."""
    return np.concatenate([opponents(rows), squared_roots(rows.light / rows.white)], axis=1)


def _best(
    rows: Rows,
    plain: FloatArray,
    terms: FloatArray,
    *,
    ties: Sequence[float],
    outside: tuple[MapFit, Hull] | None = None,
) -> MapFit:
    """Fit with every weight and tie; the least left-out error on paint wins.

    ``outside`` is what holds beyond a hull. A row left out is judged twice: by the terms
    alone, and as the hull without it would have it. Both are hard on the purest paints,
    which are then foretold from afar, so the better of the two counts.
    """
    hull = None if outside is None else outside[1]
    base = plain if hull is None else white_kept(rows, plain)
    tried = []
    for weight in STRIP_WEIGHTS:
        for tie in reversed(ties):
            factors, _, out = _solved(rows, base, terms, weight, tie)
            map_ = _as_map(rows, plain, base, factors, hull)
            tried.append((weight, tie, map_, out))
    roots = metric_roots(rows.xyz) / rows.sigma[:, None, None]
    unseen = [rows.xyz + unrooted(roots, out) for _, _, _, out in tried]
    if outside is not None:
        trust, beyond = hull_without_each(rows, outside[1])[:, None], outside[0].left_out_xyz
        unseen += [beyond + trust * (xyz - beyond) for xyz in unseen]
        tried += tried
    fits = [
        MapFit(
            map=map_,
            fitted=difference(map_.xyz(rows.light), rows.xyz),
            left_out=difference(xyz, rows.xyz),
            left_out_xyz=xyz,
            strip_weight=weight,
            tie=tie,
        )
        for (weight, tie, map_, _), xyz in zip(tried, unseen, strict=True)
    ]
    scores = [paint_score(fit, rows) for fit in fits]
    return next(fit for fit, s in zip(fits, scores, strict=True) if s <= ALIKE * min(scores))


def paint_score(fit: MapFit, rows: Rows) -> float:
    """Mean CIEDE2000 of paints left out, doubtful ones counting less."""
    return float(np.average(fit.left_out[rows.paint], weights=rows.trust[rows.paint]))


def trusted(rows: Rows, xyz_from_rgb: FloatArray) -> FloatArray:
    """Give robust weights, inks and paints each by their own spread.

    From the richest map, so that what a 3x3 cannot tell does not pass for a mistake.
    """
    trust, relative = rows.trust, rows.light / rows.white
    squares = squared_roots(relative) if rows.paint.sum() >= PLENTY else relative[:, :0]
    terms = np.concatenate([relative, squares], axis=1)
    for _ in range(3):
        known = replace(rows, trust=trust)
        _, error, _ = _solved(known, xyz_from_rgb, terms, STRIP_WEIGHTS[1], TIES[1])
        size = np.linalg.norm(error, axis=1) * rows.sigma
        scale = np.ones(len(size))
        for own in (rows.paint, ~rows.paint):
            scale[own] = typical_error(error[own] * rows.sigma[own, None])
        trust = np.minimum(1.0, DOUBTFUL * scale / np.maximum(size, 1e-9))
    return trust


def _solved(
    rows: Rows,
    base: FloatArray,
    terms: FloatArray,
    strip_weight: float,
    tie: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Factors (3, terms), and the errors with and without each row in units of its sigma."""
    plain = metric_roots(rows.xyz) / rows.sigma[:, None, None]
    weight = np.sqrt(rows.trust) * np.where(rows.paint | rows.paper, 1.0, strip_weight)
    roots = plain * weight[:, None, None]
    count = terms.shape[1]
    design = np.einsum("nir,nc->nirc", roots, terms).reshape(len(terms), 3, 3 * count)
    wanted = np.einsum("nij,nj->ni", roots, rows.xyz - rows.light @ base.T)
    free = count % 3
    held = np.tile(np.r_[np.zeros(free or 3), np.full(count - (free or 3), tie)], 3) ** 2
    information = np.einsum("nij,nik->jk", design, design) + np.diag(held)
    solved = np.linalg.solve(information, np.einsum("nij,ni->j", design, wanted))
    error = design @ solved - wanted
    out = left_out_errors(design, error, information)
    return solved.reshape(3, count), error / weight[:, None], out / weight[:, None]


def left_out_errors(
    design: FloatArray, error: FloatArray, information: FloatArray | None = None
) -> FloatArray:
    """Errors (N, 3) of each row had it not been in the linear fit.

    R. D. Cook, S. Weisberg, "Residuals and Influence in Regression", 1982, section 2.2;
    a ridge joins ``information`` only.
    """
    if information is None:
        information = np.einsum("nij,nik->jk", design, design)
    covariance = np.linalg.inv(information)
    leverage = np.einsum("nij,jk,nlk->nil", design, covariance, design)
    result: FloatArray = np.linalg.solve(np.eye(3) - leverage, error[..., None])[..., 0]
    return result


def unrooted(roots: FloatArray, error: FloatArray) -> FloatArray:
    """Turn weighted errors (N, 3) back into XYZ."""
    result: FloatArray = np.linalg.solve(roots, error[..., None])[..., 0]
    return result


def _as_map(
    rows: Rows, plain: FloatArray, base: FloatArray, factors: FloatArray, hull: Hull | None
) -> ColourMap:
    """Name the parts of solved factors."""
    if hull is None:
        return plain_map(base + factors / rows.white, rows.white)
    apart = np.array([[1.0, -1.0, 0.0], [0.0, -1.0, 1.0]]) / rows.white
    return ColourMap(
        matrix=plain,
        white=rows.white,
        linear=base + factors[:, :2] @ apart,
        squares=factors[:, 2:],
        hull=hull,
    )
