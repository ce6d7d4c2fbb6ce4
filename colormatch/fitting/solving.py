"""One scanner, several tiles: curve, scattered light, matrix and gains in one solve.

The scanner's light reaches the file as ``curve(gain * (fall_off * paint +
scattered))``. Given curve, scattered light, fall-off and gains the matrix is
the answer of a linear problem, so it is eliminated (variable projection:
G. Golub, V. Pereyra, SIAM J. Numer. Anal. 10, 1973) and only the few others
are searched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from colormatch.fitting.flare import REACHES_MM
from colormatch.fitting.grouping import common_rows, grey_exponent
from colormatch.fitting.problem import MODEL_ERROR, Solution, TilesProblem
from colormatch.fitting.readings import TileReadings
from colormatch.fitting.tone import BEND_KNOTS, ToneCurve
from colormatch.fitting.weighing import likely_roots, weighted_roots
from colormatch.model import FloatArray


def solve_tiles(
    tiles: Sequence[TileReadings], base: ToneCurve, *, bends: bool = True, rounds: int = 3
) -> Solution:
    """Fit one scanner to the strips of all its tiles.

    Parameters
    ----------
    tiles : sequence of TileReadings
        At least one.
    base : ToneCurve
        The form its curve starts from.
    bends : bool
        Whether the curve may depart from a pure power of its base.
    rounds : int
        Passes of robust reweighting; each also looks round again with the
        curve found so far.
    """
    problem = TilesProblem(tiles=tiles, base=base, bends=bends)
    weights: list[FloatArray] = [np.ones(len(t.rgb)) for t in tiles]
    vector = _first_guess(problem, np.zeros(problem.size))
    solution, model_error = problem.unpack(vector), MODEL_ERROR
    for _ in range(rounds):
        problem.look_round(solution.curve)
        problem.roots = weighted_roots(tiles, weights, model_error)
        vector = _search(problem, vector)
        solution = problem.unpack(vector)
        solution = replace(solution, xyz_from_rgb=problem.matrix(solution))
        left = errors(problem, solution)
        weights = [robust_weights(e) for e in left]
        model_error = typical_error(np.concatenate(left))
    problem.roots = weighted_roots(tiles, weights, model_error)
    return replace(
        solution,
        xyz_from_rgb=problem.matrix(solution),
        weights=tuple(weights),
        model_error=model_error,
    )


def _search(problem: TilesProblem, start: FloatArray) -> FloatArray:
    """Least squares over the unknowns that may move."""
    from scipy.optimize import least_squares

    free, low = problem.free(), problem.lowest()

    def whole(moving: FloatArray) -> FloatArray:
        vector = start.copy()
        vector[free] = moving
        return vector

    def residuals(moving: FloatArray) -> FloatArray:
        return problem.residuals(whole(moving))

    def slopes(moving: FloatArray) -> FloatArray:
        return problem.jacobian(whole(moving))[:, free]

    found = least_squares(
        residuals,
        np.maximum(start, low + 1e-4)[free],
        jac=slopes,
        bounds=(low[free], np.inf),
        x_scale=np.minimum(problem.spreads, 1.0)[free],
        # The small dense solver spins when other work shares the processor.
        tr_solver="lsmr",
        ftol=1e-6,
        xtol=1e-6,
    )
    vector = np.where(free, start, np.where(np.isfinite(low), 0.0, start))
    vector[free] = found.x
    return vector


def _first_guess(problem: TilesProblem, vector: FloatArray) -> FloatArray:
    """Exponent and gains from simple ratios, so that the search starts near."""
    first, knots = problem.tiles[0], len(BEND_KNOTS)
    # From the bound itself the search would see no way to go.
    vector[1 + knots : 1 + knots + len(REACHES_MM)] = 0.004
    if problem.base.base == "power":
        vector[0] = grey_exponent(first) - problem.base.exponent
    curve = problem.unpack(vector).curve
    start = problem.size - 3 * (len(problem.tiles) - 1)
    for t, tile in enumerate(problem.tiles[1:]):
        here, there = common_rows(first, tile, 0.1)
        if not here:
            continue
        light = np.maximum(curve.linear(first.rgb[here]), 1e-4)
        ratio = np.median(curve.linear(tile.rgb[there]) / light, axis=0)
        vector[start + 3 * t : start + 3 * t + 3] = np.log(np.maximum(ratio, 1e-3))
    return vector


def typical_error(error: FloatArray) -> float:
    """One sigma per component of errors (N, 3), from their median size."""
    # The size of three normal components has its median at 1.54 sigma.
    return max(float(np.median(np.linalg.norm(error, axis=1))) / 1.54, 0.15)


def robust_weights(error: FloatArray) -> FloatArray:
    """Huber weights of errors (N, 3) whose scale is taken from their median."""
    size = np.linalg.norm(error, axis=1)
    scale = typical_error(error)
    weights: FloatArray = np.minimum(1.0, 2.5 * scale / np.maximum(size, 1e-9))
    return weights


def errors(problem: TilesProblem, solution: Solution) -> list[FloatArray]:
    """Residuals per tile, without weights, in units of what each patch is likely to be off.

    CIEDE2000 at the patch of typical ink, less where there is more ink.
    """
    return [
        np.einsum("nij,nj->ni", likely_roots(tile), light @ solution.xyz_from_rgb.T - tile.xyz)
        for tile, light in zip(problem.tiles, problem.light(solution), strict=True)
    ]


def residuals_of(tiles: Sequence[TileReadings], solution: Solution) -> list[FloatArray]:
    """Residuals of a finished solution in the units of `errors`, (N, 3) per tile."""
    return errors(TilesProblem.looking_round(tiles, solution), solution)
