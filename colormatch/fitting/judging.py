"""How good a fit is: on the target, on patches left out, and between tiles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from colormatch.colour.difference import delta_e_2000, metric_roots
from colormatch.colour.spaces import lab_from_xyz
from colormatch.fitting.matrix import matrix_design, solve_matrix
from colormatch.fitting.problem import Solution, TilesProblem
from colormatch.fitting.readings import TileReadings, rows_by_patch
from colormatch.fitting.solving import robust_weights
from colormatch.fitting.weighing import weighted_roots
from colormatch.model import FloatArray

DEPARTURE_FACTOR = 2.5
"""How far beyond its noise a tile's own matrix may lie before it is named."""
DEPARTURE_FLOOR = 0.3
"""Mean CIEDE2000 between own and shared matrix below which nobody is named."""


@dataclass(frozen=True, kw_only=True, eq=False)
class TileJudgement:
    """Per-patch figures of one tile; all in CIEDE2000 units.

    Attributes
    ----------
    light : ndarray of shape (N, 3)
        Linear light of the patches without scatter, evened along the strip, in the
        scale shared by all tiles.
    predicted, left_out_xyz : ndarray of shape (N, 3)
        XYZ of the patches as the shared fit sees them, and as it would if it
        had not seen the patch in any tile.
    fitted, left_out : ndarray of shape (N,)
        Differences to the reference with the patch in the fit, and with it left
        out of the fit in all tiles at once.
    alike : ndarray of shape (N,)
        Differences to the reference by a matrix that trusts all this tile's patches
        alike: no good for paint, but it tells misfits of lamp and reference apart.
    own_matrix : ndarray of shape (3, 3)
        ``xyz_from_rgb`` fitted to this tile alone.
    own_fitted : ndarray of shape (N,)
        Differences to the reference with that matrix.
    departure, departure_noise : float
        Mean difference between own and shared matrix over the patches, and the
        part of it that the tile's noise explains.
    departs : bool
        Whether the tile was scanned with other settings than the rest.
    """

    light: FloatArray
    predicted: FloatArray
    left_out_xyz: FloatArray
    fitted: FloatArray
    left_out: FloatArray
    alike: FloatArray
    own_matrix: FloatArray
    own_fitted: FloatArray
    departure: float
    departure_noise: float
    departs: bool


def judge(tiles: Sequence[TileReadings], solution: Solution) -> tuple[TileJudgement, ...]:
    """Judge a joint solution tile by tile."""
    problem = TilesProblem.looking_round(tiles, solution)
    lights = problem.light(solution)
    predicted = [light @ solution.xyz_from_rgb.T for light in lights]
    left_out = left_out_xyz(problem, solution)
    own = [
        own_matrix(tile, light, weight)
        for tile, light, weight in zip(tiles, lights, solution.weights, strict=True)
    ]
    noise = between_tiles(tiles, [light @ m.T for light, m in zip(lights, own, strict=True)])
    return tuple(
        _judge_tile(tile, light, m, seen, out, noise if len(tiles) > 1 else None)
        for tile, light, m, seen, out in zip(tiles, lights, own, predicted, left_out, strict=True)
    )


def _judge_tile(
    tile: TileReadings,
    light: FloatArray,
    own: FloatArray,
    predicted: FloatArray,
    left_out: FloatArray,
    noise: float | None,
) -> TileJudgement:
    apart = float(np.mean(difference(light @ own.T, predicted)))
    expected = np.sqrt(9.0 / (3 * len(light))) * noise if noise is not None else 0.0
    limit = max(DEPARTURE_FACTOR * expected, DEPARTURE_FLOOR)
    return TileJudgement(
        light=light,
        predicted=predicted,
        left_out_xyz=left_out,
        fitted=difference(predicted, tile.xyz),
        left_out=difference(left_out, tile.xyz),
        alike=alike_fitted(light, tile.xyz),
        own_matrix=own,
        own_fitted=difference(light @ own.T, tile.xyz),
        departure=apart if noise is not None else 0.0,
        departure_noise=float(expected),
        departs=noise is not None and apart > limit,
    )


def own_matrix(tile: TileReadings, light: FloatArray, weight: FloatArray) -> FloatArray:
    """Fit the matrix to one tile's evened linear light alone, patches weighted as in the joint fit.

    With other weights it would differ from the shared one in inks that no matrix serves,
    whatever the settings.
    """
    roots = weighted_roots([tile], [weight], 1.0)
    return solve_matrix(light, tile.xyz, roots)


def alike_fitted(light: FloatArray, xyz: FloatArray) -> FloatArray:
    """Differences (N,) by a matrix to which paper is worth no more than ink."""
    roots = metric_roots(xyz)
    weight: FloatArray = np.ones(len(xyz))
    for _ in range(3):
        matrix = solve_matrix(light, xyz, roots * np.sqrt(weight)[:, None, None])
        weight = robust_weights(np.einsum("nij,nj->ni", roots, light @ matrix.T - xyz))
    return difference(light @ matrix.T, xyz)


def difference(xyz: FloatArray, reference: FloatArray) -> FloatArray:
    """CIEDE2000 between colours given as XYZ; light below none counts as none."""
    return delta_e_2000(lab_from_xyz(np.maximum(xyz, 0.0)), lab_from_xyz(reference))


def between_tiles(tiles: Sequence[TileReadings], predicted: Sequence[FloatArray]) -> float:
    """Typical CIEDE2000 size by which tiles disagree about the same patch.

    What the three channels cannot tell about an ink is the same in all tiles
    and drops out; noise, dust and other settings stay.
    """
    by_id: dict[str, list[FloatArray]] = {}
    for tile, seen in zip(tiles, predicted, strict=True):
        errors = np.einsum("nij,nj->ni", tile.roots, seen - tile.xyz)
        for name, error in zip(tile.ids, errors, strict=True):
            by_id.setdefault(name, []).append(error)
    sizes = [
        np.linalg.norm(error - np.mean(group, axis=0)) * np.sqrt(len(group) / (len(group) - 1))
        for group in by_id.values()
        if len(group) > 1
        for error in group
    ]
    return float(np.median(sizes)) if sizes else 0.0


def left_out_xyz(problem: TilesProblem, solution: Solution) -> list[FloatArray]:
    """Predict each patch by a fit that has not seen it in any tile.

    One linearised step from the joint solution: with the rows ``J`` of a patch
    and the inverse information ``C`` of all data and priors, its error without
    itself is ``(1 - J C J')^-1`` times its error (R. D. Cook, S. Weisberg,
    "Residuals and Influence in Regression", 1982, section 2.2).
    """
    rows, error = _all_rows(problem, solution)
    information = np.einsum("nij,nik->jk", rows, rows) + problem.prior_information()
    covariance = np.linalg.inv(information)
    out = error.copy()
    for index in rows_by_patch(problem.tiles):
        block = rows[index].reshape(-1, rows.shape[2])
        leverage = block @ covariance @ block.T
        left = np.linalg.solve(np.eye(len(block)) - leverage, error[index].ravel())
        out[index] = left.reshape(-1, 3)
    xyz = problem.xyz + np.linalg.solve(problem.roots, out[..., None])[..., 0]
    return np.split(xyz, np.cumsum([len(tile.ids) for tile in problem.tiles])[:-1])


def _all_rows(problem: TilesProblem, solution: Solution) -> tuple[FloatArray, FloatArray]:
    """Slopes of every weighted error, shape (N, 3, unknowns + 9), and the errors."""
    error = problem.patch_errors(solution.vector, solution.xyz_from_rgb)
    slopes = problem.patch_slopes(solution.vector, solution.xyz_from_rgb)
    design = matrix_design(problem.joined_light(solution), problem.roots)
    return np.concatenate([slopes, design], axis=2), error
