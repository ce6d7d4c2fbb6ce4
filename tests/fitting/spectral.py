"""A scanner computed from published spectra, for tests of the fit.

Outside sources: the 99 colour samples of CIE 224:2017 stand for printed
patches (every second one) and for paints (the others); the lamps are the
illuminants LED-B3 and FL11 of CIE 15:2018; the observer is CIE 1931. All come
from colour-science. The filters are plain bell curves: any will do.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import gaussian_filter

from colormatch.colour.science import colour_science
from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab
from colormatch.fitting.flare import Surroundings
from colormatch.fitting.problem import Solution
from colormatch.fitting.readings import TileReadings
from colormatch.model import FloatArray
from colormatch.standards import D50_XYZ

GRID = np.arange(400.0, 701.0, 10.0)
SIZE = (297, 216)
"""An A4 glass, one pixel per millimetre, rows and columns."""
COLUMNS = 22


def samples() -> FloatArray:
    """Reflectances (99, 31) of the CIE 224 samples."""
    colour = colour_science()
    shape = colour.SpectralShape(380, 780, 5)
    spectra = colour.quality.cfi2017.load_TCS_CIE2017(shape)
    aligned = spectra.copy().align(colour.SpectralShape(400, 700, 10))
    return np.asarray(aligned.values.T)


def lamp(name: str) -> FloatArray:
    colour = colour_science()
    sd = colour.SDS_ILLUMINANTS[name].copy()
    return np.asarray(sd.align(colour.SpectralShape(400, 700, 10)).values)


def observer() -> FloatArray:
    """Weights (31, 3) to XYZ, the perfect diffuser giving the ICC D50 exactly."""
    colour = colour_science()
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy()
    weights = cmfs.align(colour.SpectralShape(400, 700, 10)).values * lamp("D50")[:, None]
    return np.asarray(weights / weights.sum(axis=0) * np.asarray(D50_XYZ))


def sensor(lamp_name: str) -> FloatArray:
    """Weights (31, 3) to linear RGB, white giving 0.85."""

    def bell(centre: float, width: float) -> FloatArray:
        return np.asarray(np.exp(-0.5 * ((GRID - centre) / width) ** 2))

    filters = np.stack([bell(605, 36) + 0.02, bell(540, 38) + 0.02, bell(455, 30) + 0.02], axis=1)
    weights = filters * lamp(lamp_name)[:, None]
    return np.asarray(weights / weights.sum(axis=0) * 0.85)


def curve(name: str, light: FloatArray) -> FloatArray:
    """Encode linear light, 0 to 1, as a scanner's driver would."""
    light = np.clip(light, 0.0, 1.0)
    if name == "srgb":
        # IEC 61966-2-1.
        low = light <= 0.0031308
        return np.where(low, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)
    if name == "s":
        t = light ** (1 / 2.2)
        return np.asarray(t - 0.03 * np.sin(2 * np.pi * t))
    return np.asarray(light ** (1 / float(name)))


@dataclass(frozen=True, kw_only=True, eq=False)
class Scene:
    """A scan in small with its truth."""

    encoded: FloatArray
    xyz: FloatArray
    painting: np.ndarray
    light: FloatArray
    readings: TileReadings


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What to scan and how."""

    lamp: str = "LED-B3"
    curve: str = "2.2"
    dark: bool = False
    scatter: float = 0.0
    reach: float = 14.0
    gains: tuple[float, float, float] = (1.0, 1.0, 1.0)
    vignette: float = 0.0
    mixing: float = 0.0
    noise: float = 0.003
    seed: int = 0


def scan(setting: Setting) -> Scene:
    """Scan one tile: a painting of CIE samples with a strip of CIE samples below it."""
    rng = np.random.default_rng(setting.seed)
    every = samples()
    strip, neutral = strip_spectra(every[::2])
    spectra = np.concatenate([paints(every[1::2], setting.dark), strip, [np.full(31, 0.87)]])
    number, centres = page(len(spectra), len(strip), rng)
    light = (spectra @ sensor(setting.lamp))[number]
    seen = through_optics(light, setting)
    encoded = curve(setting.curve, seen * (1 + setting.noise * rng.standard_normal(seen.shape)))
    xyz = (spectra @ observer())[number]
    painting = number < len(spectra) - len(strip) - 1
    wanted = xyz_from_lab(lab_from_xyz(strip @ observer()) + rng.normal(0, 0.15, (len(strip), 3)))
    readings = TileReadings(
        name=f"tile {setting.seed}",
        ids=tuple(f"P{i}" for i in range(len(strip))),
        rgb=np.array([encoded[y - 1 : y + 3, x - 1 : x + 3].mean((0, 1)) for x, y in centres]),
        noise=np.full(len(strip), 0.003),
        xyz=wanted,
        neutral=neutral,
        along=(centres[:, 0] - 108) / 90,
        points=centres.astype(float),
        surroundings=halved(encoded),
    )
    return Scene(encoded=encoded, xyz=xyz, painting=painting, light=light, readings=readings)


def strip_spectra(chromatic: FloatArray) -> tuple[FloatArray, np.ndarray]:
    """Give the patches: greys at both ends, the samples scattered between."""
    greys = np.outer(np.geomspace(0.02, 0.85, 8), np.ones(31))
    order = np.random.default_rng(3).permutation(len(chromatic))
    strip = np.concatenate([greys, chromatic[order], greys[::-1]])
    return strip, np.arange(len(strip)) % (len(strip) - 8) < 8


def paints(spectra: FloatArray, dark: bool) -> FloatArray:
    if not dark:
        return spectra
    deep = np.full((12, 31), 0.008) * np.linspace(0.8, 2.0, 12)[:, None]
    return np.concatenate([spectra * 0.18 + 0.006, deep])


def page(spectra: int, patches: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Lay painting and strip on the glass: a spectrum's number per mm, and patch centres."""
    paint_count = spectra - patches - 1
    number = np.full(SIZE, spectra - 1)
    cells = rng.integers(0, paint_count, (51, 39))
    number[4:259, 4:199] = np.kron(cells, np.ones((5, 5), int))
    number[268:292, 16:200] = paint_count + 4
    centres = []
    for i in range(patches):
        x, y = 20 + (i // 3) * 7, 270 + (i % 3) * 7
        number[y : y + 6, x : x + 6] = paint_count + i
        centres.append((x + 2, y + 2))
    return number, np.array(centres)


def through_optics(light: FloatArray, setting: Setting) -> FloatArray:
    """Vignetting, scattered light, crosstalk of a driver's colour setting, gains."""
    across = (np.arange(SIZE[1]) - 107.5) / 108
    lit = light * (1 - setting.vignette * across**2)[None, :, None]
    spread = gaussian_filter(lit, (setting.reach, setting.reach, 0), mode="nearest")
    lit = lit * (1 - setting.scatter) + spread * setting.scatter
    grey = lit.mean(axis=2, keepdims=True)
    lit = lit + setting.mixing * (lit - grey)
    return np.asarray(lit * np.array(setting.gains))


def halved(encoded: FloatArray) -> Surroundings:
    rows, columns = (n // 2 for n in encoded.shape[:2])
    cut = encoded[: 2 * rows, : 2 * columns]
    return Surroundings(
        picture=cut.reshape(rows, 2, columns, 2, 3).mean(axis=(1, 3)), step=2.0, mm_per_px=2.0
    )


def without_surroundings(scene: Scene) -> TileReadings:
    return replace(scene.readings, surroundings=None)


def corrected(scene: Scene, solution: Solution, tile: int = 0) -> FloatArray:
    """XYZ of the painting's pixels as the solution sees them, every 7th."""
    around = scene.readings.surroundings
    assert around is not None
    rows, columns = np.nonzero(scene.painting)
    rows, columns = rows[::7], columns[::7]
    points = np.stack([columns, rows], axis=1).astype(float)
    maps = around.at(around.maps(solution.curve.linear), points)
    light = solution.light(tile, scene.encoded[rows, columns], maps)
    along = np.clip((columns - 108) / 90, -1.2, 1.2)
    return np.asarray(light / solution.lamp(tile, along)[:, None] @ solution.xyz_from_rgb.T)


def truth(scene: Scene) -> FloatArray:
    rows, columns = np.nonzero(scene.painting)
    return np.asarray(scene.xyz[rows[::7], columns[::7]])
