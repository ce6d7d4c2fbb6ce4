"""Sound scans left to chance: a painting, a scanner, a few tiles, a measured strip."""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray, Reference

from .geometry import Placing
from .presets import GLASS
from .scanner import scan_tile
from .scene import Scene, make_scene
from .settings import ScannerModel, StripPlace, TileSettings
from .strip import PrintedStrip, shipped_strip, true_reference

SHEET = (320.0, 180.0)
"""Width and height of every painting, mm: two tiles wide, one tile high."""

STRIP = "strip-long"

LEAST_OVERLAP = 30.0
"""Millimetres two sound tiles share (common practice, no source)."""

READING_NOISE = 0.15
"""Standard deviation of each of L*, a*, b* of the measured strip."""

PAINTINGS = ("coast", "dark-oil", "abstract")


@dataclass(frozen=True, kw_only=True)
class Saved:
    """How a scan is written: as ``tiff``, ``png`` or ``jpeg``, with what stated ppi.

    ``stated`` are factors on the true resolution along x and y; ``quality`` is
    for JPEG.
    """

    format: str = "tiff"
    quality: int = 95
    stated: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True, kw_only=True)
class OneScan:
    """One scan of a job: everything of it may differ from the others'."""

    scanner: ScannerModel
    tile: TileSettings
    saved: Saved = Saved()


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """What is known of the strip: the form of its reference file.

    Attributes
    ----------
    measured : date or None
        The date the file states.
    given : bool
        Whether there is a file at all.
    drift : float
        How far the printer of the *file's* strip had moved, see
        `strip.printed_strip`; 1 is the strip that is scanned.
    shuffled : bool
        Whether the file's values belong to other patches.
    """

    measured: date | None
    given: bool = True
    drift: float = 1.0
    shuffled: bool = False


@dataclass(frozen=True, kw_only=True)
class Job:
    """A painting and its scans, in the order they were made."""

    painting: str
    seed: int
    scans: tuple[OneScan, ...]
    sheet: Sheet

    def changed(self, index: int, one: OneScan) -> Job:
        """Give the job with another scan in one place."""
        scans = list(self.scans)
        scans[index] = one
        return replace(self, scans=tuple(scans))


@dataclass(frozen=True, kw_only=True)
class JobFiles:
    """Scans and, if there is one, reference file of a job."""

    scans: tuple[Path, ...]
    reference: Path | None


def sound_job(
    painting: str, *, seed: int, tiles: int, ppi: float, sensor: str | None = None
) -> Job:
    """Draw up a job without a fault, everything harmless left to chance.

    Parameters
    ----------
    painting : str
        Of `PAINTINGS`.
    seed : int
        Of chance; the painting itself repeats after four. From 10,000 on it is another.
    tiles : int
        From left to right; three overlap more widely than two.
    ppi : float
        Of the scans.
    sensor : str, optional
        Of `spectra.SENSORS`; left to chance if not given.
    """
    # A name's letters, because hash() differs from run to run.
    rng = np.random.default_rng([seed, tiles, *painting.encode()])
    scanner = _scanner(painting, ppi, rng)
    if sensor is not None:
        scanner = replace(scanner, sensor=sensor)
    light = rng.uniform(0.80, 0.90)
    starts = _starts(tiles, rng)
    scans = tuple(OneScan(scanner=scanner, tile=_tile(start, light, rng)) for start in starts)
    measured = date.today() - timedelta(days=int(rng.integers(10, 200)))
    return Job(painting=painting, seed=seed, scans=scans, sheet=Sheet(measured=measured))


def _scanner(painting: str, ppi: float, rng: np.random.Generator) -> ScannerModel:
    """Choose an ordinary scanner; its light stays within the 3 % of FADGI 2016's 3-star."""
    tone = str(rng.choice(["srgb", "power"]))
    return ScannerModel(
        lamp=str(rng.choice(["white-led", "white-led", "fluorescent"])),
        # Steep filters tell colours apart as badly as three LEDs do: no sound scanner.
        sensor=str(rng.choice(["broad", "leaning"])),
        ppi=ppi,
        tone=tone,
        gamma=float(rng.uniform(1.8, 2.2)),
        lid=str(rng.choice(["white", "white", "black"])),
        vignette=float(rng.uniform(0, 0.025)),
        tilt=float(rng.uniform(-0.01, 0.01)),
        # Flatbeds scatter 1 to 3 % of the surrounding light.
        flare=float(rng.uniform(0.008, 0.03)),
        cavity=float(rng.uniform(0.01, 0.05)),
        relief={"coast": 0.08, "dark-oil": 0.25, "abstract": 0.12}[painting],
        optics=float(rng.uniform(0.45, 0.7)),
        stretch=float(1 + rng.uniform(-0.0008, 0.0008)),
        wobble=float(rng.uniform(0, 0.04)),
        lens=float(rng.uniform(-0.03, 0.03)),
    )


def _starts(tiles: int, rng: np.random.Generator) -> list[float]:
    """Left end of what each tile shows of the painting, mm."""
    width = GLASS[0] - 8
    overlap = LEAST_OVERLAP + rng.uniform(2, 18)
    if tiles == 1:
        return [float(rng.choice([0.0, width - overlap]))]
    return [float(v) for v in np.linspace(0.0, width - overlap, tiles)]


def _tile(start: float, light: float, rng: np.random.Generator) -> TileSettings:
    """Lay one tile; its light repeats within half a percent, dust is ordinary."""
    below = rng.random() < 0.7
    placing = placed(start, slant=float(rng.uniform(-0.6, 0.6)), top=4.0 if below else 30.0)
    return TileSettings(
        placing=placing,
        strips=(_strip(below, rng),),
        exposure=float(light * (1 + rng.uniform(-0.004, 0.004))),
        gains=tuple(float(v) for v in 1 + rng.uniform(-0.002, 0.002, 3)),  # type: ignore[arg-type]
        phase=float(rng.uniform(0, 6.28)),
        dust=int(rng.integers(0, 25)),
        hairs=int(rng.integers(0, 3)),
    )


def placed(start: float, *, slant: float, top: float, turns: int = 0) -> Placing:
    """Lay the painting so that the glass shows it from ``start`` mm on.

    At the first tile the painting's left edge lies 8 mm inside the glass.
    """
    middle = (start, SHEET[1] / 2)
    half = top + SHEET[1] / 2
    edge = 8.0 if start == 0 else 0.0
    at = {
        0: (edge, half),
        1: (GLASS[0] / 2, edge),
        2: (GLASS[0] - edge, half),
        3: (GLASS[0] / 2, 186.0 - edge),
    }[turns]
    return Placing(centre=middle, at=at, turns=turns, slant=slant)


def _strip(below: bool, rng: np.random.Generator) -> StripPlace:
    y = float(rng.uniform(199.5, 201.5) if below else rng.uniform(14.0, 15.5))
    at = (float(rng.uniform(93.5, 96.0)), y)
    turns = int(rng.choice([0, 2]))
    slant = float(rng.uniform(-0.7, 0.7))
    return StripPlace(
        layout=STRIP, placing=Placing(centre=(90.0, 11.0), at=at, turns=turns, slant=slant)
    )


def render(job: Job, folder: Path) -> JobFiles:
    """Scan a job into a folder; no file is kept anywhere else."""
    strips = {STRIP: _strip_print()}
    paths = []
    for number, one in enumerate(job.scans):
        ppi = one.scanner.ppi
        scene = painting(
            job.painting, painting_seed(job.seed), min(1.5 * job.scans[0].scanner.ppi, 800.0)
        )
        rng = np.random.default_rng([job.seed, number, *job.painting.encode()])
        scan = scan_tile(scene, one.scanner, one.tile, strips=strips, rng=rng)
        ending = {"tiff": "tif", "png": "png", "jpeg": "jpg"}[one.saved.format]
        paths.append(folder / f"tile-{number + 1}.{ending}")
        save(paths[-1], scan.pixels, one.saved, ppi)
    return JobFiles(scans=tuple(paths), reference=_reference(job, folder, strips))


def painting_seed(seed: int) -> int:
    """Seed of a job's painting: four of each kind, and four others per ten thousand seeds."""
    return seed % 4 + 4 * (seed // 10_000)


@lru_cache(maxsize=2)
def painting(kind: str, seed: int, ppi: float) -> Scene:
    """One of the paintings, kept for the next job of the same."""
    return make_scene(kind, seed=seed, size=SHEET, ppi=ppi)


@lru_cache(maxsize=2)
def _strip_print(drift: float = 1.0) -> PrintedStrip:
    return shipped_strip(STRIP, ppi=400.0, drift=drift)


def save(
    path: Path, pixels: NDArray[np.uint8] | NDArray[np.uint16], saved: Saved, ppi: float
) -> None:
    """Write a scan as a driver does."""
    import imagecodecs
    import tifffile
    from PIL import Image

    x, y = (ppi * factor for factor in saved.stated)
    if saved.format == "tiff":
        tifffile.imwrite(
            path, pixels, photometric="rgb", resolution=(x, y), resolutionunit=2, metadata=None
        )
    elif saved.format == "png":
        path.write_bytes(_with_ppi(bytes(imagecodecs.png_encode(pixels, level=1)), x, y))
    else:
        stream = io.BytesIO()
        Image.fromarray(pixels).save(stream, "JPEG", quality=saved.quality, dpi=(x, y))
        path.write_bytes(stream.getvalue())


def _with_ppi(png: bytes, x: float, y: float) -> bytes:
    """Put a pHYs chunk behind a PNG's header (ISO/IEC 15948, 11.3.5.3)."""
    import struct
    import zlib

    body = b"pHYs" + struct.pack(">IIB", round(x / 0.0254), round(y / 0.0254), 1)
    chunk = struct.pack(">I", 9) + body + struct.pack(">I", zlib.crc32(body))
    header = 8 + 25
    return png[:header] + chunk + png[header:]


def _reference(job: Job, folder: Path, strips: Mapping[str, PrintedStrip]) -> Path | None:
    from colormatch.files.references import reference_text

    if not job.sheet.given:
        return None
    rng = np.random.default_rng([job.seed, 99])
    strip = strips[STRIP] if job.sheet.drift == 1 else _strip_print(job.sheet.drift)
    reference = true_reference(strip, noise=READING_NOISE, rng=rng)
    if job.sheet.shuffled:
        reference = replace(reference, xyz=_shuffled(reference, rng))
    if job.sheet.measured is not None:
        stated = {"date": job.sheet.measured.isoformat()}
        reference = replace(reference, facts=reference.facts | stated)
    path = folder / "strip.txt"
    path.write_text(reference_text(reference, STRIP), encoding="utf-8")
    return path


def _shuffled(reference: Reference, rng: np.random.Generator) -> FloatArray:
    return np.asarray(reference.xyz[rng.permutation(len(reference.xyz))])
