"""What is unknown about a scanner and its tiles, what is believed, and what is left over."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import metric_roots
from colormatch.fitting.flare import REACHES_MM, darkest_allowed
from colormatch.fitting.matrix import matrix_design, solve_matrix
from colormatch.fitting.misses import miss_covariance, whitening
from colormatch.fitting.readings import TileReadings
from colormatch.fitting.tone import BEND_KNOTS, ToneCurve, bend_basis, curve_slopes, straight
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
BLACK_SIGMA = 0.001
"""How firmly that holds, linear light."""


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
    dark_bases: list[FloatArray] = field(default_factory=list)
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

    def slopes(self, vector: FloatArray) -> FloatArray:
        """Change of all patches' light with every unknown, shape (N, 3, size)."""
        solution = self.unpack(vector)
        lights = self.light(solution)
        return np.concatenate(
            [self._tile_slopes(t, solution, light) for t, light in enumerate(lights)]
        )

    def _tile_slopes(self, t: int, solution: Solution, light: FloatArray) -> FloatArray:
        tile, knots, reaches = self.tiles[t], len(BEND_KNOTS), len(REACHES_MM)
        scale = 1.0 / (solution.gains[t] * solution.lamp(t, tile.along)[:, None])
        by_exponent, by_bend = curve_slopes(solution.curve, tile.rgb, self.bases[t])
        slopes = np.zeros((*light.shape, self.size))
        slopes[..., 0] = by_exponent * scale
        slopes[..., 1 : 1 + knots] = by_bend * scale[..., None]
        around = np.transpose(self.surround[t], (0, 2, 1))
        slopes[..., 1 + knots : 1 + knots + reaches] = -around * scale[..., None]
        slopes[..., 1 + knots + reaches] = -scale
        first = 2 + knots + reaches + 2 * t
        slopes[..., first] = -light * tile.along[:, None]
        slopes[..., first + 1] = -light * tile.along[:, None] ** 2
        if t:
            own = 2 + knots + reaches + 2 * len(self.tiles) + 3 * (t - 1)
            slopes[:, range(3), range(own, own + 3)] = -light
        return slopes

    def patch_slopes(self, vector: FloatArray, xyz_from_rgb: FloatArray) -> FloatArray:
        """Change of the weighted errors with every unknown, the matrix held: (N, 3, size)."""
        turned: FloatArray = np.concatenate(self.roots) @ xyz_from_rgb @ self.slopes(vector)
        return turned

    def jacobian(self, vector: FloatArray) -> FloatArray:
        """Slopes of `residuals`, the matrix following (L. Kaufman, BIT 15, 1975)."""
        solution = self.unpack(vector)
        roots = np.concatenate(self.roots)
        light = np.concatenate(self.light(solution))
        rows = self.patch_slopes(vector, self.matrix(solution)).reshape(-1, self.size)
        span = np.linalg.qr(matrix_design(light, roots).reshape(-1, 9))[0]
        rows = rows - span @ (span.T @ rows)
        curvature = np.zeros((len(BEND_KNOTS), self.size))
        curvature[:, 1 : 1 + len(BEND_KNOTS)] = self._curvature_rows()
        return np.concatenate(
            [rows, np.diag(1.0 / self.spreads()), curvature, *self._black_slopes(solution)]
        )

    def _curvature_rows(self) -> FloatArray:
        units = np.eye(self.size)[1 : 1 + len(BEND_KNOTS)]
        return np.stack([self._curvature(unit) for unit in units], axis=1)

    def _black_slopes(self, solution: Solution) -> list[FloatArray]:
        knots, reaches = len(BEND_KNOTS), len(REACHES_MM)
        found: list[FloatArray] = []
        for (rgb, maps), basis in zip(self.dark, self.dark_bases, strict=True):
            by_exponent, by_bend = curve_slopes(solution.curve, rgb, basis)
            slopes = np.zeros((*rgb.shape, self.size))
            slopes[..., 0] = -by_exponent
            slopes[..., 1 : 1 + knots] = -by_bend
            slopes[..., 1 + knots : 1 + knots + reaches] = np.transpose(maps, (0, 2, 1))
            light = solution.curve.linear(rgb, basis)
            missing = darkest_allowed(light, maps, floor=BLACKEST, shares=solution.scatter)
            found.append((slopes * (missing > 0)[..., None]).reshape(-1, self.size) / BLACK_SIGMA)
        return found

    def prior_information(self) -> FloatArray:
        """Inverse covariance of the priors; the matrix has none."""
        size = self.size + 9
        information = np.zeros((size, size))
        information[range(self.size), range(self.size)] = self.spreads() ** -2.0
        knots = len(BEND_KNOTS)
        rows = self._curvature_rows()
        information[1 : 1 + knots, 1 : 1 + knots] += rows.T @ rows
        return information

    def _curvature(self, vector: FloatArray) -> FloatArray:
        bend = vector[1 : 1 + len(BEND_KNOTS)]
        level = np.sum(bend) / 0.05
        slope = (bend[-1] - bend[0]) / 0.05
        return np.concatenate([np.diff(bend, 2) / BEND_SPREAD, [level, slope]])

    def _black(self, solution: Solution) -> FloatArray:
        missing = [
            darkest_allowed(
                solution.curve.linear(rgb, basis), maps, floor=BLACKEST, shares=solution.scatter
            ).ravel()
            for (rgb, maps), basis in zip(self.dark, self.dark_bases, strict=True)
        ]
        return np.concatenate(missing) / BLACK_SIGMA if missing else np.zeros(0)

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
        self.dark_bases = [bend_basis(rgb) for rgb, _ in self.dark]


def _darkest(
    picture: FloatArray, maps: FloatArray, count: int = 40
) -> tuple[FloatArray, FloatArray]:
    """Pick the places of the scan darkest for the light round them."""
    flat = picture.reshape(-1, 3)
    light = maps.mean(axis=0).reshape(-1, 3)
    order = np.argsort(flat.mean(axis=1) / (0.05 + light.mean(axis=1)))[:count]
    planes = maps.reshape(len(maps), -1, 3)[:, order]
    return flat[order].astype(float), np.transpose(planes, (1, 0, 2)).astype(float)


def weighted_roots(
    tiles: Sequence[TileReadings], weights: Sequence[FloatArray], model_error: float
) -> list[FloatArray]:
    """Give what turns XYZ errors into errors in units of their own sigma.

    What an ink makes the matrix miss it misses in all tiles alike, so that seeing the
    patch in several tells no more of it: together they count as one patch.
    """
    seen = Counter(name for tile in tiles for name in tile.ids)
    result: list[FloatArray] = []
    for tile, weight in zip(tiles, weights, strict=True):
        roots = metric_roots(tile.xyz)
        # A relative error of the reading moves the colour along its own ray.
        moved = np.einsum("nij,nj->ni", roots, tile.xyz) * tile.noise[:, None]
        read = np.sum(moved**2, axis=1)
        if tile.doubt is not None:
            read = read + tile.doubt**2
        times = np.array([seen[name] for name in tile.ids])[:, None, None]
        missed = times * model_error**2 * miss_covariance(tile.xyz, tile.neutral, roots)
        white = whitening(missed + read[:, None, None] * np.eye(3))
        result.append(white @ roots * np.sqrt(weight)[:, None, None])
    return result
