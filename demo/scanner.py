"""One scan of one tile: from paint and ink to the codes in the file, truth kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray, Layout

from . import faults
from .geometry import Carriage, Placing, SheetMap
from .scene import Scene
from .settings import ScannerModel, StripPlace, TileSettings
from .spectra import GRID, observer_weights, rise, sensor_weights
from .strip import PrintedStrip, patch_centres
from .texture import fractal

Picture = NDArray[np.float32]
Look = Callable[[slice, slice], Picture]
"""Gives the pixels of a part of a sheet's raster, (h, w, C)."""

MOTTLE = 0.004
"""Unevenness of solid print, standard deviation as a share of its light."""


@dataclass(frozen=True, kw_only=True, eq=False)
class StripTruth:
    """Where a strip really lies in the scan."""

    layout: Layout
    map: SheetMap

    @property
    def centres(self) -> FloatArray:
        """Middles of the patches, (N, 2), scan pixels."""
        return self.map.px_from_sheet(patch_centres(self.layout))

    @property
    def marks(self) -> dict[str, tuple[float, float]]:
        """Centres of the marks in scan pixels, by id."""
        px = self.map.px_from_sheet(
            np.array([[m.x, m.y] for m in self.layout.marks]).reshape(-1, 2)
        )
        return {m.id: (float(x), float(y)) for m, (x, y) in zip(self.layout.marks, px, strict=True)}


@dataclass(frozen=True, kw_only=True, eq=False)
class ScanResult:
    """A scan and what is true about it.

    Attributes
    ----------
    pixels : ndarray of uint8 or uint16, shape (H, W, 3)
        The file's codes.
    xyz : ndarray of float32, shape (H, W, 3)
        True colour of whatever lies at each pixel, D50, under even light and
        with no fault, seen as sharply as this scanner sees.
    light : ndarray of float32, shape (H, W, 3)
        What this scanner would read with no fault: linear, perfect diffuser 1.
    painting : ndarray of bool, shape (H, W)
        True where the pixel lies wholly on the painted part of the sheet.
    map : SheetMap
        Scan pixels to painting mm and back.
    strips : tuple of StripTruth
        The strips that lie on the glass.
    """

    pixels: NDArray[np.uint8] | NDArray[np.uint16]
    xyz: Picture
    light: Picture
    painting: NDArray[np.bool_]
    map: SheetMap
    strips: tuple[StripTruth, ...]


def scan_tile(
    scene: Scene,
    scanner: ScannerModel,
    tile: TileSettings,
    *,
    strips: Mapping[str, PrintedStrip],
    rng: np.random.Generator,
) -> ScanResult:
    """Scan one tile of a painting with the strips beside it.

    Parameters
    ----------
    scene : Scene
        The painting.
    scanner, tile : ScannerModel, TileSettings
        What stays and what changes from scan to scan.
    strips : mapping of str to PrintedStrip
        The printed sheets, by layout name.
    rng : numpy.random.Generator
        Noise, dust and everything else left to chance.
    """
    carriage = scanner.carriage(tile.phase)
    painting = SheetMap(carriage=carriage, placing=tile.placing)
    truths = tuple(
        StripTruth(
            layout=strips[s.layout].layout, map=SheetMap(carriage=carriage, placing=s.placing)
        )
        for s in tile.strips
    )
    seen, lit = _bare_glass(scanner)
    _lay_painting(seen, lit, scene, scanner, painting)
    for place, truth in zip(tile.strips, truths, strict=True):
        _lay_strip(seen, lit, strips[place.layout], scanner, truth.map, rng)
    clean = seen[..., :3].copy()
    inside = _painted(scene, painting, scanner.shape)
    light = _faulty(lit, scene, scanner, tile, painting, inside, rng)
    return ScanResult(
        pixels=faults.quantised(light, scanner),
        xyz=np.ascontiguousarray(seen[..., 3:]),
        light=clean,
        painting=inside,
        map=painting,
        strips=truths,
    )


def _weights(scanner: ScannerModel) -> FloatArray:
    """Weights (6, 36) of scanner RGB and true XYZ."""
    return np.concatenate([sensor_weights(scanner.lamp, scanner.sensor), observer_weights()])


def _bare_glass(scanner: ScannerModel) -> tuple[Picture, Picture]:
    """An empty scan: true RGB and XYZ of the lid, and its lit RGB."""
    if scanner.lid == "white":
        lid = 0.80 - 0.05 * rise(-GRID, -450, 80)
    elif scanner.lid == "black":
        lid = 0.035 + 0.01 * rise(GRID, 640, 120)
    else:
        raise ValueError(f"lid must be white or black (got {scanner.lid!r})")
    values = (_weights(scanner) @ lid).astype(np.float32)
    seen = np.broadcast_to(values, (*scanner.shape, 6)).copy()
    return seen, seen[..., :3].copy()


def _lay_painting(
    seen: Picture, lit: Picture, scene: Scene, scanner: ScannerModel, where: SheetMap
) -> None:
    weights = _weights(scanner)
    lamp = where.placing.rotation.T @ np.array([0.0, 1.0])

    def look(rows: slice, columns: slice) -> Picture:
        plain = scene.seen(weights, rows, columns)
        slope = _slope(scene, rows, columns, lamp)
        shade = np.clip(1 + scanner.relief * slope, 0.3, 1.8)[..., None]
        return np.concatenate([plain, plain[..., :3] * shade], axis=-1)

    _lay(seen, lit, look, scene.paint.shape, scene.ppi, scanner, where)


def _slope(scene: Scene, rows: slice, columns: slice, lamp: FloatArray) -> Picture:
    """Slope of the paint's surface towards the lamp, mm per mm."""
    import cv2

    height = cv2.GaussianBlur(scene.relief[rows, columns].astype(np.float32), (0, 0), 1.0)
    scale = 0.2 / 127 * scene.ppi / 25.4
    down, right = np.gradient(height) if min(height.shape) > 1 else (height * 0, height * 0)
    return np.asarray(scale * (lamp[0] * right + lamp[1] * down), np.float32)


def _lay_strip(
    seen: Picture,
    lit: Picture,
    strip: PrintedStrip,
    scanner: ScannerModel,
    where: SheetMap,
    rng: np.random.Generator,
) -> None:
    flat = strip.seen(_weights(scanner))
    grain = fractal(strip.colour.shape, rng, coarsest=strip.ppi / 25.4, slope=0.5)
    mottled = flat[..., :3] * (1 + np.float32(MOTTLE) * grain)[..., None]
    whole = np.concatenate([flat, mottled], axis=-1)

    def look(rows: slice, columns: slice) -> Picture:
        return whole[rows, columns]

    _lay(seen, lit, look, strip.colour.shape, strip.ppi, scanner, where)


def _lay(
    seen: Picture,
    lit: Picture,
    look: Look,
    shape: tuple[int, ...],
    ppi: float,
    scanner: ScannerModel,
    where: SheetMap,
) -> None:
    """Draw a sheet over the scan, band by band of scan rows."""
    for first in range(0, len(seen), 256):
        band = np.s_[first : first + 256]
        _lay_band(seen[band], lit[band], first, look, shape, ppi, scanner, where)


def _lay_band(
    seen: Picture,
    lit: Picture,
    first: int,
    look: Look,
    shape: tuple[int, ...],
    ppi: float,
    scanner: ScannerModel,
    where: SheetMap,
) -> None:
    import cv2

    columns, rows = np.meshgrid(np.arange(seen.shape[1]), np.arange(first, first + len(seen)))
    mm = where.sheet_from_px(np.stack([columns, rows], axis=-1))
    place = mm * ppi / 25.4 - 0.5
    step = ppi / scanner.ppi
    sigma = step * np.sqrt(scanner.optics**2 + 1 / 12)
    margin = int(np.ceil(4 * sigma)) + 5
    low = np.floor(place.min(axis=(0, 1))).astype(int) - margin
    high = np.ceil(place.max(axis=(0, 1))).astype(int) + margin + 1
    start = np.clip(low, 0, (shape[1], shape[0]))
    stop = np.clip(high, 0, (shape[1], shape[0]))
    if (start >= stop).any():
        return
    sheet = look(slice(start[1], stop[1]), slice(start[0], stop[0]))
    sheet = np.concatenate([sheet, np.ones((*sheet.shape[:2], 1), np.float32)], axis=-1)
    pad = ((margin, margin), (margin, margin), (0, 0))
    sheet = np.pad(sheet, pad)
    at = (place - start + margin).astype(np.float32)
    parts = []
    for channels in (slice(0, 4), slice(4, 8), slice(8, 10)):
        soft = cv2.GaussianBlur(np.ascontiguousarray(sheet[..., channels]), (0, 0), sigma)
        parts.append(cv2.remap(soft, at[..., 0], at[..., 1], cv2.INTER_LANCZOS4))
    found = np.concatenate(parts, axis=-1)
    cover = np.clip(found[..., 9:], 0, 1)
    seen *= 1 - cover
    seen += found[..., :6]
    lit *= 1 - cover
    lit += found[..., 6:9]


def _painted(scene: Scene, where: SheetMap, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Pixels that lie wholly inside the painted part of the sheet."""
    columns, rows = np.meshgrid(np.arange(shape[1]), np.arange(shape[0]))
    mm = where.sheet_from_px(np.stack([columns, rows], axis=-1))
    low = scene.border + 1.5
    high = np.array([scene.width, scene.height]) - low
    return np.asarray(((mm > low) & (mm < high)).all(axis=-1))


def _faulty(
    lit: Picture,
    scene: Scene,
    scanner: ScannerModel,
    tile: TileSettings,
    painting: SheetMap,
    inside: NDArray[np.bool_],
    rng: np.random.Generator,
) -> Picture:
    """Everything between an even, faultless light and the sensor's reading."""
    size = (scene.width, scene.height)
    along, across = faults.lighting(scanner)
    light = lit
    if tile.lifted is not None:
        light = faults.lift(light, tile.lifted, painting, size, scanner.ppi)
    if tile.crease is not None:
        light *= faults.crease_shadow(tile.crease, painting, size, scanner.shape)
    light *= along
    light *= across
    light = faults.soiled(light, tile, scanner.ppi, rng)
    light = faults.scattered(light, scanner)
    light = faults.glare(light, tile.glare, inside, scanner.ppi, rng)
    light *= np.float32(tile.exposure) * np.asarray(tile.gains, np.float32)
    return faults.noisy(light, scanner, rng)


__all__ = ["Carriage", "Placing", "ScanResult", "StripPlace", "StripTruth", "scan_tile"]
