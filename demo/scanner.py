"""One scan of one tile: from paint and ink to the codes in the file, truth kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray, Layout

from . import faults, strip_faults
from .geometry import SheetMap
from .inks import paper
from .scene import Scene
from .settings import ScannerModel, StripPlace, TileSettings
from .spectra import GRID, observer_weights, rise, sensor_weights
from .strip import PrintedStrip, patch_centres
from .texture import fractal

Picture = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True, eq=False)
class Sheet:
    """Something flat on the glass, as a raster.

    ``look(rows, columns)`` gives scanner RGB and XYZ of a part of it, each
    (h, w, 3); ``shape`` is the whole raster's, ``ppi`` its resolution, ``curl``
    the height in mm of its right end above the glass.
    """

    look: Callable[[slice, slice], tuple[Picture, Picture]]
    shape: tuple[int, ...]
    ppi: float
    curl: float = 0.0


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
        marks = self.layout.marks
        at = self.map.px_from_sheet(np.array([[m.x, m.y] for m in marks]).reshape(-1, 2))
        return {m.id: (float(x), float(y)) for m, (x, y) in zip(marks, at, strict=True)}


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
    painting : ndarray of bool, shape (H, W)
        True where the pixel lies wholly on the painted part of the sheet.
    map : SheetMap
        Scan pixels to painting mm and back.
    strips : tuple of StripTruth
        The strips that lie on the glass.
    """

    pixels: NDArray[np.uint8] | NDArray[np.uint16]
    xyz: Picture
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
    lit, xyz = _bare_glass(scanner)
    if not tile.strips_under:
        _lay_painting(lit, xyz, scene, scanner, painting)
    for place, truth in zip(tile.strips, truths, strict=True):
        _lay_strip(lit, xyz, strips[place.layout], scanner, place, truth.map, rng)
    if tile.strips_under:
        _lay_painting(lit, xyz, scene, scanner, painting)
    inside = _painted(scene, painting, scanner.shape)
    light = _faulty(lit, scene, scanner, tile, painting, inside, rng)
    return ScanResult(
        pixels=faults.quantised(light, scanner),
        xyz=xyz,
        painting=inside,
        map=painting,
        strips=truths,
    )


def _bare_glass(scanner: ScannerModel) -> tuple[Picture, Picture]:
    """Scan the empty glass: the lid's scanner RGB and XYZ at every pixel."""
    if scanner.lid == "white":
        lid = 0.80 - 0.05 * rise(-GRID, -450, 80)
    elif scanner.lid == "black":
        lid = 0.035 + 0.01 * rise(GRID, 640, 120)
    else:
        raise ValueError(f"lid must be white or black (got {scanner.lid!r})")
    pictures = np.empty((2, *scanner.shape, 3), np.float32)
    pictures[0] = sensor_weights(scanner.lamp, scanner.sensor) @ lid
    pictures[1] = observer_weights() @ lid
    return pictures[0], pictures[1]


def _lay_painting(
    lit: Picture, xyz: Picture, scene: Scene, scanner: ScannerModel, where: SheetMap
) -> None:
    sensor = sensor_weights(scanner.lamp, scanner.sensor)
    observer = observer_weights()
    lamp = where.placing.rotation.T @ np.array([0.0, 1.0])

    def look(rows: slice, columns: slice) -> tuple[Picture, Picture]:
        light = scene.seen(sensor, rows, columns)
        if scanner.relief:
            slope = _slope(scene, rows, columns, lamp)
            light *= np.clip(1 + scanner.relief * slope, 0.3, 1.8)[..., None]
        return light, scene.seen(observer, rows, columns)

    _lay(lit, xyz, Sheet(look=look, shape=scene.paint.shape, ppi=scene.ppi), scanner, where)


def _slope(scene: Scene, rows: slice, columns: slice, lamp: FloatArray) -> Picture:
    """Slope of the paint's surface towards the lamp, mm per mm."""
    import cv2

    height = cv2.GaussianBlur(scene.relief[rows, columns].astype(np.float32), (0, 0), 1.0)
    scale = 0.2 / 127 * scene.ppi / 25.4
    down, right = np.gradient(height) if min(height.shape) > 1 else (height * 0, height * 0)
    return np.asarray(scale * (lamp[0] * right + lamp[1] * down), np.float32)


def _lay_strip(
    lit: Picture,
    xyz: Picture,
    strip: PrintedStrip,
    scanner: ScannerModel,
    place: StripPlace,
    where: SheetMap,
    rng: np.random.Generator,
) -> None:
    weights = sensor_weights(scanner.lamp, scanner.sensor)
    light = strip.seen(weights)
    truth = strip.seen(observer_weights())
    grain = fractal(strip.colour.shape, rng, coarsest=strip.ppi / 25.4, slope=0.5)
    light *= (1 + np.float32(scanner.mottle) * grain)[..., None]
    light = strip_faults.covered(light, place.covered, weights @ paper())
    light = strip_faults.stained(light, place.stains, strip.ppi, rng)
    light = strip_faults.curled(light, place.curl, strip.ppi)

    def look(rows: slice, columns: slice) -> tuple[Picture, Picture]:
        return light[rows, columns], truth[rows, columns]

    sheet = Sheet(look=look, shape=strip.colour.shape, ppi=strip.ppi, curl=place.curl)
    _lay(lit, xyz, sheet, scanner, where)


def _lay(lit: Picture, xyz: Picture, sheet: Sheet, scanner: ScannerModel, where: SheetMap) -> None:
    """Draw a sheet over the scan, band by band of scan rows."""
    step = sheet.ppi / scanner.ppi
    sigma = step * np.sqrt(scanner.optics**2 + 1 / 12)
    for first in range(0, len(lit), 256):
        band = slice(first, min(first + 256, len(lit)))
        x, y = where.grid(range(band.start, band.stop), lit.shape[1])
        if sheet.curl:
            x, y = _curled(sheet, (x, y), scanner, where)
        place = (x * sheet.ppi / 25.4 - 0.5, y * sheet.ppi / 25.4 - 0.5)
        _lay_band(lit[band], xyz[band], sheet, place, float(sigma))


def _curled(
    sheet: Sheet, flat: tuple[FloatArray, FloatArray], scanner: ScannerModel, where: SheetMap
) -> tuple[FloatArray, FloatArray]:
    """Places on a curled sheet that pixels show, from those on a flat one."""
    mm = 25.4 / sheet.ppi
    return strip_faults.seen_nearer_middle(
        flat,
        where.carriage.glass_x(np.arange(float(flat[0].shape[1]))),
        size=(sheet.shape[1] * mm, sheet.shape[0] * mm),
        curl=sheet.curl,
        turn=where.placing.rotation,
        middle=scanner.glass[0] / 2,
    )


def _lay_band(
    lit: Picture, xyz: Picture, sheet: Sheet, place: tuple[FloatArray, FloatArray], sigma: float
) -> None:
    """Blur, sample and lay one band; beyond the sheet's rim its cover is 0."""
    import cv2

    margin = int(np.ceil(4 * sigma)) + 5
    columns = _reach(place[0], margin, sheet.shape[1])
    rows = _reach(place[1], margin, sheet.shape[0])
    if rows.start >= rows.stop or columns.start >= columns.stop:
        return
    at_x = (place[0] - columns.start + margin).astype(np.float32)
    at_y = (place[1] - rows.start + margin).astype(np.float32)
    for picture, part in zip((lit, xyz), sheet.look(rows, columns), strict=True):
        covered = np.zeros((part.shape[0] + 2 * margin, part.shape[1] + 2 * margin, 4), np.float32)
        covered[margin:-margin, margin:-margin, :3] = part
        covered[margin:-margin, margin:-margin, 3] = 1
        soft = cv2.GaussianBlur(covered, (0, 0), sigma)
        found = cv2.remap(soft, at_x, at_y, cv2.INTER_LANCZOS4)
        picture *= 1 - np.clip(found[..., 3:], 0, 1)
        picture += found[..., :3]


def _reach(place: FloatArray, margin: int, length: int) -> slice:
    """Give the part of a raster's axis that a band looks at."""
    low, high = int(np.floor(place.min())) - margin, int(np.ceil(place.max())) + margin + 1
    return slice(min(max(low, 0), length), min(max(high, 0), length))


def _painted(scene: Scene, where: SheetMap, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Pixels that lie wholly inside the painted part of the sheet."""
    x, y = where.grid(range(shape[0]), shape[1])
    low = scene.border + 1.5
    wide = (x > low) & (x < scene.width - low)
    return np.asarray(wide & (y > low) & (y < scene.height - low))


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
    light = faults.glare(light, tile.glare, inside, scanner.ppi, rng, tile.speck)
    light *= np.float32(tile.exposure) * np.asarray(tile.gains, np.float32)
    return faults.noisy(light, scanner, rng)
