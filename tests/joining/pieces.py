"""Pictures cut into tiles, and sums of waves whose light is known everywhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from colormatch.joining.blocks import Picture
from colormatch.joining.sources import Pixels, RenderTile
from colormatch.model import FloatArray, Window

BLOCK = Window(row=40, column=50, height=128, width=160)


@dataclass(kw_only=True, eq=False)
class Counted:
    """Reads windows of an array and counts how often each row was asked for."""

    pixels: Pixels
    rows: NDArray[np.int64] = field(init=False)

    def __post_init__(self) -> None:
        self.rows = np.zeros(len(self.pixels), np.int64)

    def read(self, window: Window) -> Pixels:
        self.rows[window.row : window.row + window.height] += 1
        return part(self.pixels, window)


def part(array: NDArray, window: Window) -> NDArray:  # type: ignore[type-arg]
    rows = slice(window.row, window.row + window.height)
    return array[rows, window.column : window.column + window.width]


def cut(picture: Pixels, window: Window, turns: int = 0) -> tuple[RenderTile, Counted]:
    """Take a window of a picture as a tile, turned anticlockwise by quarters; code is light."""
    pixels = np.ascontiguousarray(np.rot90(part(picture, window), turns))
    counted = Counted(pixels=pixels)
    bits = pixels.dtype.itemsize * 8
    tile = RenderTile(
        name="piece",
        width=pixels.shape[1],
        height=pixels.shape[0],
        bits=bits,
        read=counted.read,
        correct=lambda block, _row, _column: block.astype(np.float32) / (2**bits - 1),
        scan_from_canvas=turned_map(window, turns),
    )
    return tile, counted


def turned_map(window: Window, turns: int) -> Callable[[FloatArray], FloatArray]:
    def scan_from_canvas(points: FloatArray) -> FloatArray:
        x, y = points[:, 0] - window.column, points[:, 1] - window.row
        width, height = window.width, window.height
        for _ in range(turns):
            x, y, width, height = y, width - 1 - x, height, width
        return np.stack([x, y], axis=1)

    return scan_from_canvas


def labelled(
    tiles: tuple[RenderTile, ...],
    labels: NDArray[np.uint8],
    blendable: NDArray[np.bool_] | None = None,
    **more: object,
) -> Picture:
    """Make a picture whose labels are known as a whole; tiles agree everywhere if not told."""
    agree = np.ones(labels.shape, bool) if blendable is None else blendable
    return Picture(
        width=labels.shape[1],
        height=labels.shape[0],
        tiles=tiles,
        labels=lambda window: part(labels, window),
        blendable=lambda window: part(agree, window).copy(),
        **more,  # type: ignore[arg-type]
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Waves:
    """Light made of plane waves; ``frequencies`` in cycles per pixel, shape (N, 2)."""

    frequencies: FloatArray
    phases: FloatArray

    @classmethod
    def drawn(cls, rng: np.random.Generator, highest: float, count: int = 24) -> Waves:
        angle = rng.uniform(0, 2 * np.pi, count)
        length = rng.uniform(0.2, 1.0, count) * highest
        return cls(
            frequencies=np.stack([np.cos(angle), np.sin(angle)], axis=1) * length[:, None],
            phases=rng.uniform(0, 2 * np.pi, (3, count)),
        )

    def light(self, points: FloatArray) -> FloatArray:
        """At points (..., 2): (..., 3), mean 0.5, standard deviation 0.1."""
        turn = 2 * np.pi * points @ self.frequencies.T
        scale = 0.1 * np.sqrt(2 / len(self.frequencies))
        return np.stack([0.5 + scale * np.sin(turn + p).sum(-1) for p in self.phases], axis=-1)


def grid(window: Window) -> FloatArray:
    """Points (x, y) of a window's pixels, shape (height, width, 2)."""
    x = np.arange(window.column, window.column + window.width, dtype=float)
    y = np.arange(window.row, window.row + window.height, dtype=float)
    return np.stack(np.meshgrid(x, y), axis=-1)


def slanted(points: FloatArray) -> FloatArray:
    """Map as a tile on the glass may lie: turned by 0.3°, 0.07 % larger, shifted."""
    angle = np.radians(0.3)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return np.asarray(points @ (1.0007 * turn.T) + [1.37, -2.61])


def wobbling(points: FloatArray) -> FloatArray:
    """Swings of 1 px in 25 mm at 300 ppi, over the slant."""
    swing = 0.5 * np.sin(points[:, 1] * 2 * np.pi / 295)
    return slanted(points) + np.stack([swing, -swing], axis=1)


def true_places(mapping: object, window: Window) -> FloatArray:
    points = grid(window)
    assert callable(mapping)
    return np.asarray(mapping(points.reshape(-1, 2)).reshape(points.shape))
