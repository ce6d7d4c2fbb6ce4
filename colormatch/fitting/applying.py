"""Carrying a fit to every pixel, block by block."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from colormatch.compiled import library
from colormatch.compiled.correcting import correct, four_wide
from colormatch.compiled.grids import between_centres
from colormatch.fitting.flare import Surroundings
from colormatch.fitting.hues import HueTable, hue_table
from colormatch.fitting.maps import ColourMap
from colormatch.fitting.problem import Solution
from colormatch.model import FloatArray

FARTHEST_ALONG = 1.2
"""How far beyond the strip's ends, in half lengths, its fall-off is believed."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Correction:
    """All that turns one scan's encoded pixels into linear light of a space.

    Attributes
    ----------
    decode : ndarray of shape (levels, 3)
        Linear light of each code, gains and black level taken out.
    scattered : ndarray of shape (h, w, 3)
        Light to take away, on the small picture's grid, same scale.
    lamp : ndarray of shape (h, w)
        Relative light, to divide by, on the same grid.
    step : float
        Scan pixels per grid step.
    matrix : ndarray of shape (3, 3)
        From that light to the output, used as ``light @ matrix.T``.
    hues : HueTable or None
        What a root-polynomial adds to that.
    """

    decode: NDArray[np.float32]
    scattered: NDArray[np.float32]
    lamp: NDArray[np.float32]
    step: float
    matrix: NDArray[np.float32]
    hues: HueTable | None = None

    def widened(self, width: int) -> Correction | WideCorrection:
        """Prepare for full-width rows: grids are stretched to ``width`` pixels across.

        The compiled loop needs no such preparation.
        """
        if library.available():
            return self
        lamp_gain = (1.0 / self.lamp)[..., None].repeat(3, axis=2)
        return WideCorrection(
            correction=self,
            scattered=_stretched(self.scattered, self.step, 0, width),
            lamp_gain=_stretched(lamp_gain, self.step, 0, width),
        )

    def apply(
        self,
        block: NDArray[np.uint8] | NDArray[np.uint16],
        first_row: int,
        first_column: int = 0,
    ) -> NDArray[np.float32]:
        """Do as `WideCorrection.apply` does, with no stretched grids held.

        For windows of many tiles at a time.
        """
        if library.available():
            return self._compiled(block, first_row, first_column)
        between = self.between(first_row, len(block))
        columns = self.step, first_column, block.shape[1]
        lamp_gain = (1.0 / self.lamp[between.near])[..., None].repeat(3, axis=2)
        scattered = _stretched(self.scattered[between.near], *columns)
        return self.applied(block, scattered, _stretched(lamp_gain, *columns), between)

    def _compiled(
        self, block: NDArray[np.uint8] | NDArray[np.uint16], first_row: int, first_column: int
    ) -> NDArray[np.float32]:
        known, corner = self._known, (first_row, first_column)
        if self.hues is None:
            return correct(block, self.decode, known, self.step, corner, self.matrix)
        plain = np.eye(3, dtype=np.float32)
        return self.coloured(correct(block, self.decode, known, self.step, corner, plain))

    @cached_property
    def _known(self) -> NDArray[np.float32]:
        """Scattered light, and what makes up for the lamp's fall-off, for the compiled loop."""
        return four_wide(self.scattered, 1.0 / self.lamp)

    def between(self, first_row: int, rows: int) -> Between:
        """Find the grid rows around scan rows."""
        upper, share = between_centres(first_row, rows, self.step, len(self.scattered))
        near = slice(int(upper[0]), int(upper[-1]) + 2)
        return Between(near=near, upper=upper - upper[0], share=share)

    def applied(
        self,
        block: NDArray[np.uint8] | NDArray[np.uint16],
        scattered: NDArray[np.float32],
        lamp_gain: NDArray[np.float32],
        between: Between,
    ) -> NDArray[np.float32]:
        """Correct a block by the grid rows around it, stretched to its columns."""
        import cv2

        light: NDArray[np.float32] = np.asarray(
            cv2.LUT(np.ascontiguousarray(block), self.decode[None]), dtype=np.float32
        )
        flat = light.reshape(len(light), -1)
        scattered, lamp_gain = (g.reshape(len(g), -1) for g in (scattered, lamp_gain))
        for rows, above in _runs(between.upper):
            below, share = min(above + 1, len(scattered) - 1), between.share[rows]
            flat[rows] -= _mixed(scattered[above], scattered[below], share)
            flat[rows] *= _mixed(lamp_gain[above], lamp_gain[below], share)
        return self.coloured(light)

    def coloured(self, light: NDArray[np.float32]) -> NDArray[np.float32]:
        """Turn even light, (rows, columns, 3), into linear light of the output."""
        import cv2

        # As fast as a matrix product, without waking that library's own threads.
        colour = np.asarray(cv2.transform(light, self.matrix), dtype=np.float32)
        if self.hues is not None:
            colour += self.hues.added(light)
        return colour


@dataclass(frozen=True, kw_only=True, eq=False)
class Between:
    """Where scan rows lie between rows of a grid.

    Attributes
    ----------
    near : slice
        The grid rows around them.
    upper : ndarray of int, shape (rows,)
        Which of those is the one above each scan row.
    share : ndarray of shape (rows,)
        How far below it the scan row lies, in grid rows.
    """

    near: slice
    upper: NDArray[np.intp]
    share: NDArray[np.float32]


@dataclass(frozen=True, kw_only=True, eq=False)
class WideCorrection:
    """A correction ready for full-width blocks of rows."""

    correction: Correction
    scattered: NDArray[np.float32]
    lamp_gain: NDArray[np.float32]

    def apply(
        self,
        block: NDArray[np.uint8] | NDArray[np.uint16],
        first_row: int,
        first_column: int = 0,
    ) -> NDArray[np.float32]:
        """Turn encoded pixels into linear light of the output space.

        Parameters
        ----------
        block : ndarray of shape (rows, width, 3)
            As stored in the file.
        first_row, first_column : int
            Which scan row and column the block starts at.

        Returns
        -------
        ndarray of float32, shape (rows, width, 3)
            May lie outside 0 to 1.
        """
        columns = slice(first_column, first_column + block.shape[1])
        between = self.correction.between(first_row, len(block))
        near = between.near
        return self.correction.applied(
            block, self.scattered[near, columns], self.lamp_gain[near, columns], between
        )


def _runs(upper: NDArray[np.intp]) -> Iterator[tuple[slice, int]]:
    """Rows that lie below the same grid row, and which that is."""
    first = int(upper[0])
    ends = np.searchsorted(upper, np.arange(first, int(upper[-1]) + 1), side="right")
    start = 0
    for k, end in enumerate(ends):
        yield slice(start, int(end)), first + k
        start = int(end)


def _mixed(
    above: NDArray[np.float32], below: NDArray[np.float32], share: NDArray[np.float32]
) -> NDArray[np.float32]:
    mixed: NDArray[np.float32] = share[:, None] * (below - above)
    mixed += above
    return mixed


def _stretched(grid: FloatArray, step: float, first: int, count: int) -> NDArray[np.float32]:
    """Linear interpolation of a (h, w, n) grid at pixels across."""
    left, share = between_centres(first, count, step, grid.shape[1])
    right = np.minimum(left + 1, grid.shape[1] - 1)
    share = share[None, :, None]
    result: NDArray[np.float32] = ((1 - share) * grid[:, left] + share * grid[:, right]).astype(
        np.float32
    )
    return result


def correction(
    solution: Solution,
    tile: int,
    surroundings: Surroundings,
    along_from_px: FloatArray,
    *,
    bits: int,
    rgb_from_xyz: FloatArray,
    colour_map: ColourMap | None = None,
) -> Correction:
    """Prepare a tile's correction.

    Parameters
    ----------
    solution : Solution
        The joint fit.
    tile : int
        Which tile of it.
    surroundings : Surroundings
        The tile in small.
    along_from_px : ndarray of shape (3,)
        ``along = x * a[0] + y * a[1] + a[2]``, place along the strip.
    bits : int
        8 or 16: how the scan encodes.
    rgb_from_xyz : ndarray of shape (3, 3)
        The output space, used as ``xyz @ rgb_from_xyz.T``.
    colour_map : ColourMap, optional
        What leads to XYZ. Default: the solution's own 3x3.
    """
    gains = solution.gains[tile]
    codes = np.linspace(0.0, 1.0, 2**bits)[:, None].repeat(3, axis=1)
    maps = surroundings.maps(solution.curve.linear)
    decode = (solution.curve.linear(codes) - solution.offset) / gains
    matrix = solution.xyz_from_rgb if colour_map is None else colour_map.matrix
    return Correction(
        decode=np.ascontiguousarray(decode, dtype=np.float32),
        scattered=(np.einsum("k,khwc->hwc", solution.scatter, maps) / gains).astype(np.float32),
        lamp=lamp_map(solution, tile, surroundings, along_from_px).astype(np.float32),
        step=surroundings.step,
        matrix=(rgb_from_xyz @ matrix).astype(np.float32),
        hues=None if colour_map is None else hue_table(colour_map, rgb_from_xyz),
    )


def lamp_map(
    solution: Solution, tile: int, surroundings: Surroundings, along_from_px: FloatArray
) -> FloatArray:
    """Relative light over the small picture: as along the strip, the same across it."""
    rows, columns = surroundings.picture.shape[:2]
    centre = (surroundings.step - 1) / 2
    x = np.arange(columns) * surroundings.step + centre
    y = (np.arange(rows) * surroundings.step + centre)[:, None]
    along = x * along_from_px[0] + y * along_from_px[1] + along_from_px[2]
    return solution.lamp(tile, np.clip(along, -FARTHEST_ALONG, FARTHEST_ALONG))
