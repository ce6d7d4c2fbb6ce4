"""Invented paintings and scans whose true places are known exactly.

The painting is a band-limited random field given by the coefficients of a
spline of order 5 (scipy.ndimage), so that its value at any place is exact.
A scan's map is written here a second time, on its own, with sines instead of
splines for the carriage.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

from colormatch.model import Window
from colormatch.placing.tiles import Tile

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Painting:
    """Spline coefficients of the light, 0 to 1, on a grid of ``ppi``."""

    coefficients: NDArray[np.float32]
    ppi: float
    order: Literal[3, 5] = 5

    def light(self, points: Array) -> NDArray[np.float32]:
        """Light at points (x, y) in painting pixels; any leading shape."""
        at = np.moveaxis(points, -1, 0)[::-1]
        result: NDArray[np.float32] = ndimage.map_coordinates(
            self.coefficients,
            at,
            output=np.float32,
            order=self.order,
            mode="mirror",
            prefilter=False,
        )
        return result


def random_field(
    rng: np.random.Generator, shape: tuple[int, int], slope: float, finest: float
) -> NDArray[np.float32]:
    """Noise whose amplitude falls as frequency to ``-slope``; blurred by ``finest`` px."""
    size = [fft.next_fast_len(n, real=True) for n in shape]
    spectrum = fft.rfft2(rng.standard_normal(size, dtype=np.float32), workers=2)
    fy, fx = fft.fftfreq(size[0])[:, None], fft.rfftfreq(size[1])[None, :]
    radius = np.hypot(fy, fx).astype(np.float32)
    gain = np.maximum(radius, 1.0 / 400.0) ** -slope
    gain *= np.exp(-2.0 * (np.pi * finest * radius) ** 2)
    values = fft.irfft2(spectrum * gain, s=size, workers=2)[: shape[0], : shape[1]]
    return np.asarray((values - values.mean()) / values.std(), dtype=np.float32)


def painting(
    rng: np.random.Generator,
    shape: tuple[int, int],
    *,
    ppi: float = 150.0,
    contrast: float = 0.5,
    order: Literal[3, 5] = 5,
) -> Painting:
    """Washes with soft strokes and grain."""
    washes = random_field(rng, shape, 1.3, 1.3)
    strokes = np.tanh(3.0 * random_field(rng, shape, 1.6, 2.0))
    grain = random_field(rng, shape, 0.4, 1.3)
    log = -1.3 + contrast * (washes + 0.5 * strokes + 0.15 * grain)
    light = 1.0 / (1.0 + np.exp(-log))
    return from_light(0.03 + 0.85 * light, ppi, order=order)


def from_light(light: NDArray[np.float32], ppi: float, *, order: Literal[3, 5] = 5) -> Painting:
    """Make a painting from its light on the grid."""
    coefficients = ndimage.spline_filter(light, order=order, output=np.float32, mode="mirror")
    return Painting(coefficients=coefficients, ppi=ppi, order=order)


def still(way: Array) -> Array:
    """No wobble."""
    return np.zeros((*way.shape, 2))


def wobble(rng: np.random.Generator, length: float, rms: float) -> Callable[[Array], Array]:
    """Three slow sines per axis over ``length`` px along the way; RMS in px per axis."""
    waves = rng.uniform(0.6, 4.0, (3, 2))
    phases = rng.uniform(0, 2 * np.pi, (3, 2))
    parts = rng.uniform(0.5, 1.0, (3, 2))
    parts *= rms / np.sqrt((parts**2).sum(axis=0) / 2.0)

    def moved(way: Array) -> Array:
        turns = 2 * np.pi * waves * way[..., None, None] / length + phases
        return np.asarray((parts * np.sin(turns)).sum(axis=-2))

    return moved


@dataclass(frozen=True, kw_only=True, eq=False)
class TrueScan:
    """How one scan was made: middle on the painting (px), turn, carriage."""

    width: int
    height: int
    middle: tuple[float, float]
    angle: float = 0.0
    ppi: float = 150.0
    stretch: float = 0.0
    wobble: Callable[[Array], Array] = still
    lens: float = 0.0
    gain: float = 1.0
    fall_off: float = 0.0
    noise: float = 0.0
    power: float = 2.2
    name: str = "tile"
    extra: dict[str, object] = field(default_factory=dict)

    def places(self, points: NDArray[np.floating], painting_ppi: float) -> Array:
        """Painting pixels of scan pixels (..., 2)."""
        centred = points - (np.array([self.width, self.height]) - 1) / 2
        across, way = centred[..., 0], centred[..., 1]
        half = self.width / 2
        x = across + self.lens * (across / half) ** 3
        y = way * (1 + self.stretch)
        bent = np.stack([x, y], axis=-1) + self.wobble(way)
        c, s = np.cos(np.radians(self.angle)), np.sin(np.radians(self.angle))
        ratio = painting_ppi / self.ppi
        turned = np.stack(
            [c * bent[..., 0] - s * bent[..., 1], s * bent[..., 0] + c * bent[..., 1]], axis=-1
        )
        return np.asarray(ratio * turned + np.array(self.middle))

    def pixels_of(self, places: NDArray[np.floating], painting_ppi: float) -> Array:
        """Scan pixels of painting pixels, by Newton with the slope at rest."""
        c, s = np.cos(np.radians(self.angle)), np.sin(np.radians(self.angle))
        back = np.array([[c, s], [-s, c]]) * self.ppi / painting_ppi
        points = (places - np.array(self.middle)) @ back.T
        points = points + (np.array([self.width, self.height]) - 1) / 2
        for _ in range(12):
            points = points + (places - self.places(points, painting_ppi)) @ back.T
        return np.asarray(points)

    def scanned(self, scene: Painting, rng: np.random.Generator) -> NDArray[np.uint16]:
        """Scan: the file's pixels, uint16, encoded by a plain power."""
        out = np.empty((self.height, self.width, 3), dtype=np.uint16)
        for top in range(0, self.height, 512):
            rows = np.arange(top, min(top + 512, self.height))
            grid = np.stack(np.meshgrid(np.arange(self.width), rows), axis=-1).astype(float)
            light = scene.light(self.places(grid, scene.ppi)) * self.gain
            u = (grid[..., 0] - self.width / 2) / (self.width / 2)
            v = (grid[..., 1] - self.height / 2) / (self.height / 2)
            light = light * (1 - self.fall_off * u**2 + 0.5 * self.fall_off * v)
            for channel, tint in enumerate((1.0, 0.93, 0.8)):
                noisy = light * tint + self.noise * rng.standard_normal(light.shape)
                code = np.clip(noisy, 0, 1) ** (1 / self.power) * 65535
                out[rows[0] : rows[-1] + 1, :, channel] = np.round(code).astype(np.uint16)
        return out

    def tile(self, scene: Painting, rng: np.random.Generator, step: int = 8) -> Tile:
        """Scan, and hand over what the placing stage is given."""
        pixels = self.scanned(scene, rng)
        return tile_of(pixels, name=self.name, ppi=self.ppi, step=step, **self.extra)


def tile_of(
    pixels: NDArray[np.uint16], *, name: str, ppi: float, step: int = 8, **extra: object
) -> Tile:
    """Make a tile that reads from an array."""
    height, width = pixels.shape[:2]
    whole = pixels[: height // step * step, : width // step * step]
    blocks = whole.reshape(height // step, step, width // step, step, 3)
    overview = (blocks.mean(axis=(1, 3), dtype=np.float32) / 65535).astype(np.float32)

    def read(window: Window) -> NDArray[np.uint16]:
        assert 0 <= window.row <= window.row + window.height <= height
        assert 0 <= window.column <= window.column + window.width <= width
        return pixels[
            window.row : window.row + window.height,
            window.column : window.column + window.width,
        ]

    return Tile(
        name=name,
        width=width,
        height=height,
        ppi=(ppi, ppi),
        overview=overview,
        step=step,
        read=read,
        **extra,  # type: ignore[arg-type]
    )
