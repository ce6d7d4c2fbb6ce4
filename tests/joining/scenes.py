"""Invented canvases cut into tiles whose right joining is known.

Everything is made at full resolution and averaged down here by plain block
means, on its own and not by the code under test. 600 ppi, so that a grid pixel
of 8 x 8 canvas pixels is 0.34 mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from colormatch.colour.spaces import rgb_space
from colormatch.joining.records import Grid, GridTile
from colormatch.model import Window

Array = NDArray[np.float32]
STEP = 8
MM = 25.4 / 600
XYZ_FROM_RGB = rgb_space("srgb").xyz_from_rgb


@dataclass(frozen=True, kw_only=True, eq=False)
class Canvas:
    """Full-resolution light of each tile, NaN where it is not, and the grid."""

    grid: Grid
    full: tuple[Array, ...]
    tiles: tuple[GridTile, ...]

    def read(self, tile: int, window: Window) -> Array:
        """Light of a tile in a window, NaN outside the canvas."""
        height, width = self.full[tile].shape[:2]
        out = np.full((window.height, window.width, 3), np.nan, np.float32)
        top, left = max(window.row, 0), max(window.column, 0)
        bottom = min(window.row + window.height, height)
        right = min(window.column + window.width, width)
        if top < bottom and left < right:
            out[
                top - window.row : bottom - window.row, left - window.column : right - window.column
            ] = self.full[tile][top:bottom, left:right]
        return out

    def luminance(self, tile: int, window: Window) -> Array:
        """Luminance of a tile in a window."""
        return self.read(tile, window) @ np.array([0.2, 0.7, 0.1], np.float32)

    @property
    def nothing(self) -> list[Array]:
        """No softness known, or no penalty: one array of zeros for each tile."""
        return [np.zeros(tile.valid.shape, np.float32) for tile in self.tiles]


def ground(rng: np.random.Generator, height: int, width: int, *, grain: float = 0.02) -> Array:
    """Paint a calm ground of one colour with grain that differs nowhere between tiles."""
    noise = cv2.GaussianBlur(rng.standard_normal((height, width)).astype(np.float32), (0, 0), 1.0)
    light = 0.35 * np.exp(grain * noise / noise.std())
    return np.asarray(light[..., None] * np.array([1.0, 0.9, 0.7]), dtype=np.float32)


def textured(rng: np.random.Generator, height: int, width: int, *, contrast: float = 0.2) -> Array:
    """Brush-like texture at all scales from 2 px to 200 px."""
    total = np.zeros((height, width), np.float32)
    for sigma, shrink in ((1.0, 1), (3.0, 1), (10.0, 4), (30.0, 8), (100.0, 32)):
        # Wide swells are drawn small and enlarged: the same, and quick.
        size = (-(-height // shrink), -(-width // shrink))
        noise = rng.standard_normal(size, dtype=np.float32)
        smooth = cv2.GaussianBlur(noise, (0, 0), sigma / shrink)
        total += cv2.resize(smooth / smooth.std(), (width, height), interpolation=cv2.INTER_CUBIC)
    light = 0.3 * np.exp(contrast * total / np.sqrt(5))
    return np.asarray(light[..., None] * np.array([1.0, 0.85, 0.6]), dtype=np.float32)


def disc(light: Array, x: float, y: float, radius: float, colour: Sequence[float]) -> Array:
    """Paint a disc (canvas pixels) over the light."""
    rows, columns = np.ogrid[: light.shape[0], : light.shape[1]]
    inside = np.hypot(rows - y, columns - x) <= radius
    return np.where(inside[..., None], np.array(colour, np.float32), light).astype(np.float32)


def canvas_of(full: Sequence[Array], names: Sequence[str] | None = None) -> Canvas:
    """Bring tiles, each of the whole canvas's shape with NaN outside, onto the grid."""
    height, width = full[0].shape[:2]
    grid = Grid(
        canvas_height=height,
        canvas_width=width,
        step=STEP,
        mm_from_canvas=np.array([[MM, 0, MM / 2], [0, MM, MM / 2]]),
    )
    names = names or [f"tile{k}.tif" for k in range(len(full))]
    tiles = tuple(_grid_tile(light, name) for light, name in zip(full, names, strict=True))
    return Canvas(grid=grid, full=tuple(full), tiles=tiles)


def _grid_tile(light: Array, name: str) -> GridTile:
    height, width = light.shape[:2]
    rows, columns = -(-height // STEP), -(-width // STEP)
    padded = np.pad(
        light, ((0, rows * STEP - height), (0, columns * STEP - width), (0, 0)), mode="edge"
    )
    means = padded.reshape(rows, STEP, columns, STEP, 3).mean(axis=(1, 3))
    valid = np.isfinite(means).all(axis=2)
    # Nothing is shown beyond the canvas either.
    mask = np.pad(valid.astype(np.uint8), 1)
    distance = cv2.distanceTransform(mask, cv2.DIST_L2, 5)[1:-1, 1:-1] * STEP * MM
    held_rows, held_columns = (np.flatnonzero(valid.any(axis=k)) for k in (1, 0))
    at = slice(held_rows[0], held_rows[-1] + 1), slice(held_columns[0], held_columns[-1] + 1)
    return GridTile(
        name=name,
        row=int(at[0].start),
        column=int(at[1].start),
        light=np.nan_to_num(means[at]).astype(np.float32),
        valid=valid[at],
        edge_distance=distance[at].astype(np.float32),
    )


def cut(light: Array, boxes: Sequence[tuple[int, int, int, int]]) -> list[Array]:
    """Cut (top, bottom, left, right) boxes out of a canvas."""
    tiles = []
    for top, bottom, left, right in boxes:
        tile = np.full_like(light, np.nan)
        tile[top:bottom, left:right] = light[top:bottom, left:right]
        tiles.append(tile)
    return tiles


def side_by_side(light: Array, overlap: tuple[int, int]) -> list[Array]:
    """Cut a canvas into a left and a right tile that share columns ``overlap``."""
    height, width = light.shape[:2]
    return cut(light, [(0, height, 0, overlap[1]), (0, height, overlap[0], width)])


def two_by_two(light: Array, share: int) -> list[Array]:
    """Cut a canvas into four tiles that overlap by ``share`` pixels."""
    height, width = light.shape[:2]
    upper, lower = (0, (height + share) // 2), ((height - share) // 2, height)
    left, right = (0, (width + share) // 2), ((width - share) // 2, width)
    return cut(light, [(*rows, *columns) for rows in (upper, lower) for columns in (left, right)])


def with_noise(full: Sequence[Array], rng: np.random.Generator, sigma: float) -> list[Array]:
    """Add noise of its own to each tile, as a share of the light."""
    return [
        (light * (1 + sigma * rng.standard_normal(light.shape))).astype(np.float32)
        for light in full
    ]
