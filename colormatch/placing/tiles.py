"""What the placing stage is given per tile, and the picture it compares.

Compared is the logarithm of linear light, band-passed: a factor on the light
becomes an added constant, a slow change of light becomes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray, Window
from colormatch.placing.poses import Pose, resting_pose

LIGHT_FLOOR = 0.006
"""Added to linear light before the logarithm: below it there is mostly noise."""
LUMINANCE = (0.25, 0.6, 0.15)
"""Weights of the channels when the caller gives no linearisation: green sees most."""
ASSUMED_POWER = 2.2
"""Encoding assumed in that case; a wrong one changes contrast, not position."""

STRIP = 1 << 16
"""Pixels reduced at a time."""

LATTICE = 200
"""Places looked at along a tile's longer side."""

Reader = Callable[[Window], NDArray[np.uint8] | NDArray[np.uint16]]
Lineariser = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, kw_only=True, eq=False)
class Lattice:
    """Places all over a scan, row by row.

    Attributes
    ----------
    points : ndarray of shape (N, 2)
        Scan pixels.
    shape : tuple of int
        Rows and columns.
    spacing : float
        Scan pixels; the first place is half a spacing inside.
    painted : ndarray of bool, shape (N,)
    """

    points: FloatArray
    shape: tuple[int, int]
    spacing: float
    painted: NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class Tile:
    """One scan as the placing stage sees it.

    Attributes
    ----------
    name : str
        How messages call it.
    width, height : int
        Pixels.
    ppi : tuple of float
        Pixels per inch along x and y.
    overview : ndarray of shape (height // step, width // step, 3)
        Block means of the encoded values, 0 to 1.
    step : int
        Side of those blocks, pixels.
    read : callable
        ``read(window)`` gives uint8 or uint16 RGB at full resolution.
    mask : ndarray of bool or None
        Shape of the overview: True where the painting is; lid, strip and
        paper border False. None: painting everywhere.
    linear : callable or None
        From encoded RGB (..., 3), 0 to 1, to linear luminance (...); a `LightTable` is
        the quickest.
    along_x : bool
        True if the carriage moved along x in the file.
    strip : ndarray of shape (2,) or None
        Middle of the strip in scan pixels, if one was found.
    """

    name: str
    width: int
    height: int
    ppi: tuple[float, float]
    overview: FloatArray
    step: int
    read: Reader
    mask: NDArray[np.bool_] | None = None
    linear: Lineariser | None = None
    along_x: bool = False
    strip: FloatArray | None = None

    def resting(self) -> Pose:
        """Its pose before anything is known."""
        return resting_pose((self.width, self.height), self.ppi, along_x=self.along_x)

    @property
    def painted(self) -> NDArray[np.bool_]:
        """Mask, or True everywhere."""
        if self.mask is None:
            return np.ones(self.overview.shape[:2], dtype=bool)
        return self.mask

    @cached_property
    def lattice(self) -> Lattice:
        """Places at which areas are measured."""
        spacing = max(1.0, max(self.width, self.height) / LATTICE)
        columns, rows = int(self.width / spacing), int(self.height / spacing)
        x = (np.arange(columns) + 0.5) * spacing - 0.5
        y = (np.arange(rows) + 0.5) * spacing - 0.5
        points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        return Lattice(
            points=points, shape=(rows, columns), spacing=spacing, painted=self.shows(points)
        )

    def shows(self, points: FloatArray) -> NDArray[np.bool_]:
        """Whether scan pixels (N, 2) lie inside the tile and on its painting, (N,)."""
        x, y = (points[:, axis] + 0.5 for axis in (0, 1))
        inside = (x >= 0) & (x <= self.width) & (y >= 0) & (y <= self.height)
        mask = self.painted
        column, row = (
            np.clip((place / self.step).astype(np.intp), 0, count - 1)
            for place, count in zip((x, y), mask.shape[::-1], strict=True)
        )
        return np.asarray(inside & mask[row, column])


class LightTable:
    """Lineariser by table, which takes whole numbers as they are.

    Parameters
    ----------
    table : ndarray of shape (65536, 3)
        Linear light of every code of every channel.
    weights : ndarray of shape (3,)
        Of the channels in the luminance.
    """

    def __init__(self, table: FloatArray, weights: FloatArray) -> None:
        self.table = np.ascontiguousarray(table, dtype=np.float32)
        self.weights = np.asarray(weights, dtype=np.float32).reshape(1, 3)

    def __call__(self, encoded: FloatArray) -> FloatArray:
        """Linear luminance (...) of encoded RGB (..., 3), 0 to 1."""
        values = np.asarray(encoded) * np.float32(65535.0)
        values += np.float32(0.5)
        return self.of_codes(np.clip(values, 0.0, 65535.0, out=values).astype(np.uint16))

    def of_codes(self, codes: NDArray[np.uint16]) -> FloatArray:
        """Linear luminance (...) of RGB (..., 3), 0 to 65535."""
        import cv2

        light = cv2.LUT(np.ascontiguousarray(codes).reshape(-1, 1, 3), self.table[None])
        summed = np.asarray(cv2.transform(light, self.weights), dtype=np.float32)
        return summed.reshape(codes.shape[:-1])


def log_light(rgb: NDArray[np.generic], linear: Lineariser | None) -> FloatArray:
    """Natural logarithm of the linear light, float32.

    Parameters
    ----------
    rgb : ndarray of shape (H, W, 3)
        uint8, uint16, or floating 0 to 1.
    linear : callable or None
        See `Tile`.
    """
    light = np.asarray(_light(rgb, linear), dtype=np.float32)
    light = np.maximum(light, np.float32(0.0))
    light += np.float32(LIGHT_FLOOR)
    return np.asarray(np.log(light, out=light))


def _light(rgb: NDArray[np.generic], linear: Lineariser | None) -> FloatArray:
    """Linear luminance."""
    if np.issubdtype(rgb.dtype, np.integer):
        if isinstance(linear, LightTable):
            return linear.of_codes(_codes(rgb))
        values = rgb.astype(np.float32)
        values /= np.float32(np.iinfo(str(rgb.dtype)).max)
    else:
        values = rgb.astype(np.float32, copy=False)
    if linear is not None:
        return linear(values)
    weighted: FloatArray = values @ np.array(LUMINANCE, dtype=np.float32)
    return np.asarray(weighted ** np.float32(ASSUMED_POWER))


def band_passed(image: FloatArray, fine: float, coarse: float) -> FloatArray:
    """Detail between two Gaussian blurs of the given sigmas, pixels; float32."""
    import cv2

    image = np.ascontiguousarray(image, dtype=np.float32)
    kind = cv2.BORDER_REFLECT_101
    low = cv2.GaussianBlur(image, (0, 0), coarse, borderType=kind)
    high = cv2.GaussianBlur(image, (0, 0), fine, borderType=kind) if fine > 0 else image
    return np.asarray(high - low, dtype=np.float32)


@dataclass(frozen=True, kw_only=True, eq=False)
class View:
    """Tile at one scale: full (``step`` 1), its overview, or between."""

    tile: Tile
    step: int

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels of this view."""
        return self.tile.width // self.step, self.tile.height // self.step

    def scan_from_view(self, points: FloatArray) -> FloatArray:
        """Pixels of this view to pixels of the scan."""
        return points * float(self.step) + (self.step - 1) / 2.0

    def view_from_scan(self, points: FloatArray) -> FloatArray:
        """Pixels of the scan to pixels of this view."""
        return (points - (self.step - 1) / 2.0) / float(self.step)

    def log(self, window: Window) -> FloatArray:
        """Logarithm of the light in a window of this view."""
        if self.step == self.tile.step:
            rows = slice(window.row, window.row + window.height)
            columns = slice(window.column, window.column + window.width)
            return log_light(self.tile.overview[rows, columns], self.tile.linear)
        raw = self.tile.read(
            Window(
                row=window.row * self.step,
                column=window.column * self.step,
                height=window.height * self.step,
                width=window.width * self.step,
            )
        )
        if self.step <= 2:
            return log_light(raw if self.step == 1 else _halved(raw), self.tile.linear)
        return log_light(block_means(raw, self.step), self.tile.linear)


def _codes(rgb: NDArray[np.generic]) -> NDArray[np.uint16]:
    """Whole-number RGB on the scale of 16 bits."""
    return np.asarray(np.multiply(rgb, 257, dtype=np.uint16) if rgb.dtype == np.uint8 else rgb)


def _halved(rgb: NDArray[np.uint8] | NDArray[np.uint16]) -> NDArray[np.uint16]:
    """Means of 2 × 2 blocks, to half a code of 65535: several times as quick as exact ones."""
    import cv2

    height, width = rgb.shape[0] // 2, rgb.shape[1] // 2
    even = np.ascontiguousarray(_codes(rgb[: 2 * height, : 2 * width]))
    return np.asarray(cv2.resize(even, (width, height), interpolation=cv2.INTER_AREA))


def block_means(rgb: NDArray[np.uint8] | NDArray[np.uint16], step: int) -> FloatArray:
    """Means of step × step blocks of whole-number RGB, 0 to 1, float32."""
    import cv2

    height, width = rgb.shape[0] // step, rgb.shape[1] // step
    means = np.empty((height, width, 3), dtype=np.float32)
    # A few rows at a time, which stay in the processor's cache.
    rows = max(1, STRIP // (width * step * step))
    for row in range(0, height, rows):
        part = rgb[row * step : min(row + rows, height) * step, : width * step]
        size = (width, part.shape[0] // step)
        reduced = cv2.resize(part.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        means[row : row + rows] = reduced
    means *= np.float32(1.0 / np.iinfo(rgb.dtype).max)
    return means
