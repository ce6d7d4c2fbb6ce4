"""One scanner, several tiles: curve, scattered light, matrix and gains in one solve.

The scanner's light reaches the file as ``curve(gain * (fall_off * paint +
scattered))``. Given curve, scattered light, fall-off and gains the matrix is
the answer of a linear problem, so it is eliminated (variable projection:
G. Golub, V. Pereyra, SIAM J. Numer. Anal. 10, 1973) and only the few others
are searched.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import metric_roots
from colormatch.fitting.flare import REACHES_MM, darkest_allowed
from colormatch.fitting.grouping import common_rows, grey_exponent
from colormatch.fitting.matrix import solve_matrix
from colormatch.fitting.readings import TileReadings
from colormatch.fitting.tone import BEND_KNOTS, ToneCurve, bend_basis, straight
from colormatch.model import FloatArray

EXPONENT_SPREAD = {"power": 0.5, "srgb": 0.02, "profile": 0.02}
"""How far, one standard deviation, a curve's power may lie from its start."""
BEND_SPREAD = 0.02
"""Departure of a curve per knot, second difference of logarithms, one sigma."""
SCATTER_SPREAD = 0.02
"""Scattered share per reach, one sigma about zero; flatbeds: 1 to 3 % in all."""
OFFSET_SPREAD = 0.0007
"""Black level left by the scanner, linear, one sigma about zero."""
FALL_OFF_SPREAD = 0.03
"""Logarithm of the light along the strip, linear and quadratic, one sigma."""
MODEL_ERROR = 0.8
"""What three channels cannot tell about inks, CIEDE2000 per patch, one sigma."""
BLACKEST = 0.0015
"""The least linear light that a paint sends: matt blacks reflect 0.3 % and more."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Solution:
    """What the joint solve found; arrays per tile are in the order given."""

    curve: ToneCurve
    xyz_from_rgb: FloatArray
    scatter: FloatArray
    offset: float
    gains: FloatArray
    fall_off: FloatArray
    vector: FloatArray
    weights: tuple[FloatArray, ...] = ()
    model_error: float = MODEL_ERROR

    def light(
        self, tile: int, rgb: FloatArray, surround: FloatArray, basis: FloatArray | None = None
    ) -> FloatArray:
        """Linear light of encoded values without scatter, in the shared scale.

        Parameters
        ----------
        tile : int
            Which tile's gains to take out.
        rgb : ndarray of shape (N, 3)
            Encoded, 0 to 1.
        surround : ndarray of shape (N, reaches, 3)
            Linear light round each place.
        basis : ndarray or None
            `bend_basis` of ``rgb``, if it is at hand.
        """
        scattered = np.einsum("k,nkc->nc", self.scatter, surround)
        result: FloatArray = (self.curve.linear(rgb, basis) - scattered - self.offset) / self.gains[
            tile
        ]
        return result

    def lamp(self, tile: int, along: FloatArray) -> FloatArray:
        """Relative light at places along the strip, 1 at its middle."""
        a, b = self.fall_off[tile]
        result: FloatArray = np.exp(a * along + b * along**2)
        return result


@dataclass(eq=False)
class TilesProblem:
    """Arrays the residuals need again and again; surroundings as of one curve."""

    tiles: Sequence[TileReadings]
    base: ToneCurve
    surround: list[FloatArray] = field(default_factory=list)
    dark: list[tuple[FloatArray, FloatArray]] = field(default_factory=list)
    roots: list[FloatArray] = field(default_factory=list)
    bases: list[FloatArray] = field(default_factory=list)
    bends: bool = True

    @classmethod
    def looking_round(cls, tiles: Sequence[TileReadings], solution: Solution) -> TilesProblem:
        """Set up the problem that ``solution`` answers, weighted as it left it."""
        base = solution.curve.changed(solution.curve.exponent - solution.vector[0], straight())
        problem = cls(tiles=tiles, base=base)
        problem.look_round(solution.curve)
        problem.roots = weighted_roots(tiles, solution.weights, solution.model_error)
        return problem

    @property
    def size(self) -> int:
        """Unknowns besides the matrix."""
        return (
            2 + len(BEND_KNOTS) + len(REACHES_MM) + 2 * len(self.tiles) + 3 * (len(self.tiles) - 1)
        )

    def unpack(self, vector: FloatArray) -> Solution:
        """Name the parts of the vector of unknowns."""
        knots, reaches, count = len(BEND_KNOTS), len(REACHES_MM), len(self.tiles)
        parts = np.split(vector, np.cumsum([1, knots, reaches, 1, 2 * count]))
        gains = np.vstack([np.zeros((1, 3)), parts[5].reshape(count - 1, 3)])
        return Solution(
            curve=self.base.changed(self.base.exponent + float(parts[0][0]), parts[1]),
            scatter=parts[2],
            offset=float(parts[3][0]),
            fall_off=parts[4].reshape(count, 2),
            gains=np.exp(gains),
            xyz_from_rgb=np.eye(3),
            vector=vector,
        )

    def spreads(self) -> FloatArray:
        """One sigma of every unknown's prior; the bend's is on its curvature."""
        count = len(self.tiles)
        return np.concatenate(
            [
                [EXPONENT_SPREAD[self.base.base]],
                np.ones(len(BEND_KNOTS)),
                np.full(len(REACHES_MM), SCATTER_SPREAD),
                [OFFSET_SPREAD],
                np.full(2 * count, FALL_OFF_SPREAD),
                np.full(3 * (count - 1), 1.0),
            ]
        )

    def free(self) -> NDArray[np.bool_]:
        """Which unknowns the data may move."""
        knots, reaches = len(BEND_KNOTS), len(REACHES_MM)
        free = np.ones(self.size, dtype=bool)
        free[1 : 1 + knots] = self.bends
        seen = all(tile.surroundings is not None for tile in self.tiles)
        free[1 + knots : 1 + knots + reaches] = seen
        return free

    def lowest(self) -> FloatArray:
        """Scatter only adds light."""
        low = np.full(self.size, -np.inf)
        first = 1 + len(BEND_KNOTS)
        low[first : first + len(REACHES_MM)] = 0.0
        return low

    def light(self, solution: Solution) -> list[FloatArray]:
        """Linear light of all patches, evened along the strip."""
        return [
            solution.light(t, tile.rgb, self.surround[t], self.bases[t])
            / solution.lamp(t, tile.along)[:, None]
            for t, tile in enumerate(self.tiles)
        ]

    def residuals(self, vector: FloatArray) -> FloatArray:
        """Weighted colour errors, priors, and places that would turn too black."""
        solution = self.unpack(vector)
        left = self.patch_errors(vector, self.matrix(solution))
        return np.concatenate(
            [left.ravel(), vector / self.spreads(), self._curvature(vector), self._black(solution)]
        )

    def matrix(self, solution: Solution) -> FloatArray:
        """Give the matrix that suits the other unknowns best."""
        light = np.concatenate(self.light(solution))
        xyz = np.concatenate([tile.xyz for tile in self.tiles])
        return solve_matrix(light, xyz, np.concatenate(self.roots))

    def patch_errors(self, vector: FloatArray, xyz_from_rgb: FloatArray) -> FloatArray:
        """Weighted errors of all patches, shape (N, 3)."""
        light = np.concatenate(self.light(self.unpack(vector)))
        xyz = np.concatenate([tile.xyz for tile in self.tiles])
        left: FloatArray = np.einsum(
            "nij,nj->ni", np.concatenate(self.roots), light @ xyz_from_rgb.T - xyz
        )
        return left

    def prior_information(self) -> FloatArray:
        """Inverse covariance of the priors; the matrix has none."""
        size = self.size + 9
        information = np.zeros((size, size))
        information[range(self.size), range(self.size)] = self.spreads() ** -2.0
        knots = len(BEND_KNOTS)
        rows = np.stack([self._curvature(unit) for unit in np.eye(self.size)[1 : 1 + knots]])
        information[1 : 1 + knots, 1 : 1 + knots] += rows @ rows.T
        return information

    def _curvature(self, vector: FloatArray) -> FloatArray:
        bend = vector[1 : 1 + len(BEND_KNOTS)]
        level = np.sum(bend) / 0.05
        slope = (bend[-1] - bend[0]) / 0.05
        return np.concatenate([np.diff(bend, 2) / BEND_SPREAD, [level, slope]])

    def _black(self, solution: Solution) -> FloatArray:
        missing = [
            darkest_allowed(
                solution.curve.linear(rgb), maps, floor=BLACKEST, shares=solution.scatter
            ).ravel()
            for rgb, maps in self.dark
        ]
        return np.concatenate(missing) / 0.001 if missing else np.zeros(0)

    def look_round(self, curve: ToneCurve) -> None:
        """Read the light round every patch, and round the scan's darkest places."""
        self.surround, self.dark = [], []
        self.bases = [bend_basis(tile.rgb) for tile in self.tiles]
        for tile in self.tiles:
            if tile.surroundings is None:
                self.surround.append(np.zeros((len(tile.rgb), len(REACHES_MM), 3)))
                continue
            maps = tile.surroundings.maps(curve.linear)
            self.surround.append(tile.surroundings.at(maps, tile.points))
            self.dark.append(_darkest(tile.surroundings.picture, maps))


def _darkest(
    picture: FloatArray, maps: FloatArray, count: int = 40
) -> tuple[FloatArray, FloatArray]:
    """Pick the places of the scan darkest for the light round them."""
    flat = picture.reshape(-1, 3)
    light = maps.mean(axis=0).reshape(-1, 3)
    order = np.argsort(flat.mean(axis=1) / (0.05 + light.mean(axis=1)))[:count]
    planes = maps.reshape(len(maps), -1, 3)[:, order]
    return flat[order].astype(float), np.transpose(planes, (1, 0, 2)).astype(float)


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
    return replace(solution, weights=tuple(weights), model_error=model_error)


def _search(problem: TilesProblem, start: FloatArray) -> FloatArray:
    """Least squares over the unknowns that may move."""
    from scipy.optimize import least_squares

    free, low = problem.free(), problem.lowest()

    def residuals(moving: FloatArray) -> FloatArray:
        vector = start.copy()
        vector[free] = moving
        return problem.residuals(vector)

    found = least_squares(
        residuals,
        np.maximum(start, low + 1e-4)[free],
        bounds=(low[free], np.inf),
        x_scale=np.minimum(problem.spreads(), 1.0)[free],
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


def weighted_roots(
    tiles: Sequence[TileReadings], weights: Sequence[FloatArray], model_error: float
) -> list[FloatArray]:
    """Give what turns XYZ errors into errors in units of their own sigma."""
    result = []
    for tile, weight in zip(tiles, weights, strict=True):
        roots = metric_roots(tile.xyz)
        # A relative error of the reading moves the colour along its own ray.
        moved = np.einsum("nij,nj->ni", roots, tile.xyz) * tile.noise[:, None]
        sigma = np.hypot(model_error, np.linalg.norm(moved, axis=1))
        result.append(roots * (np.sqrt(weight) / sigma)[:, None, None])
    return result


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
    """Residuals in CIEDE2000 units per tile, without weights."""
    return [
        np.einsum("nij,nj->ni", metric_roots(tile.xyz), light @ solution.xyz_from_rgb.T - tile.xyz)
        for tile, light in zip(problem.tiles, problem.light(solution), strict=True)
    ]


def residuals_of(tiles: Sequence[TileReadings], solution: Solution) -> list[FloatArray]:
    """Residuals of a finished solution in CIEDE2000 units, (N, 3) per tile."""
    return errors(TilesProblem.looking_round(tiles, solution), solution)
