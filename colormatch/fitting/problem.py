"""What is unknown about a scanner and its tiles, what is believed, and what is left over."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from colormatch.fitting.flare import REACHES_MM, darkest_allowed
from colormatch.fitting.matrix import matrix_design, solve_matrix
from colormatch.fitting.readings import TileReadings
from colormatch.fitting.tone import BEND_KNOTS, Levels, ToneCurve, straight
from colormatch.fitting.weighing import weighted_roots
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

LOOKS = 2
"""Tiles whose surroundings are read at a time."""


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
    """Arrays the residuals need again and again; surroundings as of one curve.

    The patches of all tiles stand one after the other, and so do the darkest places of
    all scans.

    Attributes
    ----------
    roots : ndarray of shape (M, 3, 3)
        From `weighted_roots`; set before anything is solved.
    """

    tiles: Sequence[TileReadings]
    base: ToneCurve
    bends: bool = True
    roots: FloatArray = field(default_factory=lambda: np.zeros((0, 3, 3)))

    def __post_init__(self) -> None:
        counts = [len(tile.rgb) for tile in self.tiles]
        self._ends = np.cumsum(counts)[:-1]
        self._owner = np.repeat(np.arange(len(counts)), counts)
        self._levels = Levels.of(self.base, np.concatenate([tile.rgb for tile in self.tiles]))
        self.xyz = np.concatenate([tile.xyz for tile in self.tiles])
        self._along = np.concatenate([tile.along for tile in self.tiles])
        self._around = np.zeros((len(self.xyz), len(REACHES_MM), 3))
        self._dark, self._dark_around = self._no_dark()

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

    @cached_property
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
        """Linear light of the patches, evened along the strip, (N, 3) per tile."""
        return np.split(self.joined_light(solution), self._ends)

    def joined_light(self, solution: Solution) -> FloatArray:
        """Linear light of all patches, evened along the strip, (M, 3)."""
        scattered = np.einsum("k,nkc->nc", solution.scatter, self._around)
        light = self._levels.linear(solution.curve) - scattered - solution.offset
        result: FloatArray = light / solution.gains[self._owner] / self._lamp(solution)
        return result

    def _lamp(self, solution: Solution) -> FloatArray:
        """Relative light at each patch along its strip, (M, 1)."""
        a, b = solution.fall_off[self._owner].T
        lamp: FloatArray = np.exp(a * self._along + b * self._along**2)[:, None]
        return lamp

    def residuals(self, vector: FloatArray) -> FloatArray:
        """Weighted colour errors, priors, and places that would turn too black."""
        solution = self.unpack(vector)
        light = self.joined_light(solution)
        left = self._errors(light, solve_matrix(light, self.xyz, self.roots))
        return np.concatenate(
            [left.ravel(), vector / self.spreads, self._curvature(vector), self._black(solution)]
        )

    def matrix(self, solution: Solution) -> FloatArray:
        """Give the matrix that suits the other unknowns best."""
        return solve_matrix(self.joined_light(solution), self.xyz, self.roots)

    def patch_errors(self, vector: FloatArray, xyz_from_rgb: FloatArray) -> FloatArray:
        """Weighted errors of all patches, shape (M, 3)."""
        return self._errors(self.joined_light(self.unpack(vector)), xyz_from_rgb)

    def _errors(self, light: FloatArray, xyz_from_rgb: FloatArray) -> FloatArray:
        left: FloatArray = np.einsum("nij,nj->ni", self.roots, light @ xyz_from_rgb.T - self.xyz)
        return left

    def slopes(self, vector: FloatArray) -> FloatArray:
        """Change of all patches' light with every unknown, shape (M, 3, size)."""
        solution = self.unpack(vector)
        return self._slopes(solution, self.joined_light(solution))

    def _slopes(self, solution: Solution, light: FloatArray) -> FloatArray:
        knots, reaches = len(BEND_KNOTS), len(REACHES_MM)
        scale = 1.0 / (solution.gains[self._owner] * self._lamp(solution))
        by_exponent, by_bend = self._levels.slopes(solution.curve)
        slopes = np.zeros((*light.shape, self.size))
        slopes[..., 0] = by_exponent * scale
        slopes[..., 1 : 1 + knots] = by_bend * scale[..., None]
        around = np.swapaxes(self._around, 1, 2)
        slopes[..., 1 + knots : 1 + knots + reaches] = -around * scale[..., None]
        slopes[..., 1 + knots + reaches] = -scale
        row, first = np.arange(len(light)), 2 + knots + reaches
        slopes[row, :, first + 2 * self._owner] = -light * self._along[:, None]
        slopes[row, :, first + 2 * self._owner + 1] = -light * self._along[:, None] ** 2
        row, channel = row[self._owner > 0, None], np.arange(3)
        own = first + 2 * len(self.tiles) + 3 * (self._owner[row] - 1) + channel
        slopes[row, channel, own] = -light[row, channel]
        return slopes

    def patch_slopes(self, vector: FloatArray, xyz_from_rgb: FloatArray) -> FloatArray:
        """Change of the weighted errors with every unknown, the matrix held: (M, 3, size)."""
        turned: FloatArray = self.roots @ xyz_from_rgb @ self.slopes(vector)
        return turned

    def jacobian(self, vector: FloatArray) -> FloatArray:
        """Slopes of `residuals`, the matrix following (L. Kaufman, BIT 15, 1975)."""
        solution = self.unpack(vector)
        light = self.joined_light(solution)
        matrix = solve_matrix(light, self.xyz, self.roots)
        rows = (self.roots @ matrix @ self._slopes(solution, light)).reshape(-1, self.size)
        span = np.linalg.qr(matrix_design(light, self.roots).reshape(-1, 9))[0]
        rows = rows - span @ (span.T @ rows)
        curvature = np.zeros((len(BEND_KNOTS), self.size))
        curvature[:, 1 : 1 + len(BEND_KNOTS)] = self._curvature_rows()
        return np.concatenate(
            [rows, np.diag(1.0 / self.spreads), curvature, self._black_slopes(solution)]
        )

    def _curvature_rows(self) -> FloatArray:
        units = np.eye(self.size)[1 : 1 + len(BEND_KNOTS)]
        return np.stack([self._curvature(unit) for unit in units], axis=1)

    def _black_slopes(self, solution: Solution) -> FloatArray:
        knots, reaches = len(BEND_KNOTS), len(REACHES_MM)
        by_exponent, by_bend = self._dark.slopes(solution.curve)
        slopes = np.zeros((*by_exponent.shape, self.size))
        slopes[..., 0] = -by_exponent
        slopes[..., 1 : 1 + knots] = -by_bend
        slopes[..., 1 + knots : 1 + knots + reaches] = np.swapaxes(self._dark_around, 1, 2)
        short = self._too_black(solution)[..., None] > 0
        found: FloatArray = (slopes * short).reshape(-1, self.size) / BLACK_SIGMA
        return found

    def prior_information(self) -> FloatArray:
        """Inverse covariance of the priors; the matrix has none."""
        size = self.size + 9
        information = np.zeros((size, size))
        information[range(self.size), range(self.size)] = self.spreads**-2.0
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
        return self._too_black(solution).ravel() / BLACK_SIGMA

    def _too_black(self, solution: Solution) -> FloatArray:
        """Light that the darkest places lack, (P, 3)."""
        light = self._dark.linear(solution.curve)
        return darkest_allowed(light, self._dark_around, floor=BLACKEST, shares=solution.scatter)

    def look_round(self, curve: ToneCurve) -> None:
        """Read the light round every patch, and round the scan's darkest places."""
        # The blurs let go of the interpreter, and are most of the work.
        with ThreadPoolExecutor(LOOKS) as pool:
            looks = list(pool.map(lambda tile: _look(tile, curve), self.tiles))
        self._around = np.concatenate([around for around, _ in looks])
        dark = [found for _, found in looks if found is not None]
        self._dark, self._dark_around = self._no_dark()
        if dark:
            self._dark = Levels.of(self.base, np.concatenate([rgb for rgb, _ in dark]))
            self._dark_around = np.concatenate([maps for _, maps in dark])

    def _no_dark(self) -> tuple[Levels, FloatArray]:
        none = np.zeros((0, len(REACHES_MM), 3))
        return Levels.of(self.base, none[:, 0]), none


def _look(
    tile: TileReadings, curve: ToneCurve
) -> tuple[FloatArray, tuple[FloatArray, FloatArray] | None]:
    """Give the light round a tile's patches, and its darkest places if it shows more."""
    if tile.surroundings is None:
        return np.zeros((len(tile.rgb), len(REACHES_MM), 3)), None
    maps = tile.surroundings.maps(curve.linear)
    return tile.surroundings.at(maps, tile.points), _darkest(tile.surroundings.picture, maps)


def _darkest(
    picture: FloatArray, maps: FloatArray, count: int = 40
) -> tuple[FloatArray, FloatArray]:
    """Pick the places of the scan darkest for the light round them."""
    flat = picture.reshape(-1, 3)
    light = maps.mean(axis=0).reshape(-1, 3)
    order = np.argsort(flat.mean(axis=1) / (0.05 + light.mean(axis=1)))[:count]
    planes = maps.reshape(len(maps), -1, 3)[:, order]
    return flat[order].astype(float), np.transpose(planes, (1, 0, 2)).astype(float)
