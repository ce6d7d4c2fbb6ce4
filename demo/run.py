"""Draw and scan one of the ready-made jobs into a folder."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from colormatch.errors import InputError, OutputError
from colormatch.files.whole import written_whole
from colormatch.model import Progress, silent

from .presets import Preset, presets
from .scanner import ScanResult, scan_tile
from .scene import Scene, make_scene
from .settings import ScannerModel
from .strip import PrintedStrip, shipped_strip, true_reference
from .swatches import Paints, chosen_paints, measured_table, painted_sheet, sheet_on_glass

XYZ_SCALE = 60000.0
"""Code of the perfect diffuser's Y in the stored truth."""

READING_NOISE = 0.15
"""Standard deviation of each of L*, a*, b* of the measured strip: about 0.3 ΔE in all."""


@dataclass(frozen=True, kw_only=True)
class DemoFiles:
    """What `draw` wrote.

    Attributes
    ----------
    scans : tuple of Path
        The scans, 8 or 16 bit TIFF.
    reference : Path
        Measured values of the printed strip.
    truth : tuple of Path
        For each scan an npz file: ``xyz`` (uint16, `XYZ_SCALE` for Y = 1),
        ``painting`` (bool) and ``sheet_from_px`` (the affine part of the map).
    story : Path
        The invented occasion, and what is wrong with the scans.
    swatches, swatch_reference : Path or None
        Scan and measured values of the painter's own paints, if asked for.
    """

    scans: tuple[Path, ...]
    reference: Path
    truth: tuple[Path, ...]
    story: Path
    swatches: Path | None = None
    swatch_reference: Path | None = None


def draw(
    folder: Path,
    *,
    preset: str = "two-tiles",
    ppi: float = 300.0,
    seed: int = 0,
    swatches: str | None = None,
    force: bool = False,
    progress: Progress = silent,
) -> DemoFiles:
    """Draw an invented painting and leave its scans, and the truth, in a folder.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    preset : str
        One of `presets.presets`.
    ppi : float
        Of the scans, 75 to 1200.
    seed : int
        Another seed is another painting and other noise.
    swatches : str, optional
        Also scan a sheet of the painter's own paints: one of `swatches.CHOICES`.
    force : bool
        Replace files of an earlier run.
    progress : Progress
        Told how far it is.

    Raises
    ------
    InputError
        If the preset is not known or ppi out of range.
    OutputError
        If a file is there already or cannot be written.
    """
    job = _chosen(preset, ppi)
    files = _planned(folder, job, swatches is not None)
    _check_free(files, force)
    _make_folder(folder / "truth")
    scene_seed, *tile_seeds, sheet_seed = np.random.SeedSequence(seed).spawn(3 + len(job.tiles))
    progress("painting", 0.0)
    scene = make_scene(
        job.kind, seed=int(scene_seed.generate_state(1)[0]), size=job.size, ppi=min(1.5 * ppi, 800)
    )
    scanner = replace(job.scanner, ppi=ppi)
    strips = _printed(job)
    for number, tile in enumerate(job.tiles):
        progress("scanning", number / len(job.tiles))
        rng = np.random.default_rng(tile_seeds[number])
        scan = scan_tile(scene, scanner, tile, strips=strips, rng=rng)
        _write_scan(files.scans[number], scan, ppi, force)
        _write_truth(files.truth[number], scan, force)
    _write_reference(files.reference, strips, np.random.default_rng(tile_seeds[-1]), force)
    if swatches is not None:
        sheet = chosen_paints(scene, swatches)
        _draw_swatches(files, job, scene, scanner, sheet, np.random.default_rng(sheet_seed), force)
    _write_text(files.story, _story(job, scene, scanner), force)
    progress("scanning", 1.0)
    return files


def _chosen(preset: str, ppi: float) -> Preset:
    jobs = presets()
    if preset not in jobs:
        raise InputError(f"no demo is called {preset!r}: choose one of {', '.join(jobs)}")
    if not 75 <= ppi <= 1200:
        raise InputError(f"the demo scans at 75 to 1200 ppi (got {ppi:g}): choose a value between")
    return jobs[preset]


def _draw_swatches(
    files: DemoFiles,
    job: Preset,
    scene: Scene,
    scanner: ScannerModel,
    chosen: Paints,
    rng: np.random.Generator,
    force: bool,
) -> None:
    """Scan the sheet of paints with the first tile's strip beside it, and measure it."""
    if files.swatches is None or files.swatch_reference is None:
        return
    sheet = painted_sheet(chosen, rng)
    tile = sheet_on_glass(job.tiles[0], scanner, sheet.layout)
    strips = {**_printed(job), sheet.layout.name: sheet}
    scan = scan_tile(scene, scanner, tile, strips=strips, rng=rng)
    _write_scan(files.swatches, scan, scanner.ppi, force)
    _write_text(files.swatch_reference, measured_table(sheet, chosen, rng), force)


def _planned(folder: Path, job: Preset, swatches: bool) -> DemoFiles:
    names = [f"tile-{number}" for number in range(1, len(job.tiles) + 1)]
    return DemoFiles(
        scans=tuple(folder / f"{name}.tif" for name in names),
        reference=folder / "strip.txt",
        truth=tuple(folder / "truth" / f"{name}.npz" for name in names),
        story=folder / "story.txt",
        swatches=folder / "swatches.tif" if swatches else None,
        swatch_reference=folder / "swatches.csv" if swatches else None,
    )


def _check_free(files: DemoFiles, force: bool) -> None:
    """Refuse before the work and not after it."""
    more = (files.reference, files.story, files.swatches, files.swatch_reference)
    for path in (*files.scans, *files.truth, *more):
        if path is not None and path.exists() and not force:
            raise OutputError(f"{path} exists already: choose another folder or use --force")


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"the folder {folder} cannot be made ({error.strerror}): choose another place"
        ) from error


def _printed(job: Preset) -> dict[str, PrintedStrip]:
    names = sorted({place.layout for tile in job.tiles for place in tile.strips})
    return {name: shipped_strip(name) for name in names}


def _write_scan(path: Path, scan: ScanResult, ppi: float, force: bool) -> None:
    import tifffile

    with written_whole(path, force=force) as part:
        tifffile.imwrite(
            part,
            scan.pixels,
            photometric="rgb",
            resolution=(ppi, ppi),
            resolutionunit="INCH",
            metadata=None,
        )


def _write_truth(path: Path, scan: ScanResult, force: bool) -> None:
    xyz = np.clip(scan.xyz * np.float32(XYZ_SCALE) + np.float32(0.5), 0, 65535).astype(np.uint16)
    step, placing = 25.4 / scan.map.carriage.ppi, scan.map.placing
    origin = placing.sheet_from_glass(np.full(2, step / 2))
    affine = np.column_stack([placing.rotation.T * step, origin])
    with written_whole(path, force=force) as part, part.open("wb") as stream:
        np.savez(stream, xyz=xyz, painting=scan.painting, sheet_from_px=affine)


def _write_reference(
    path: Path, strips: dict[str, PrintedStrip], rng: np.random.Generator, force: bool
) -> None:
    from colormatch.files.references import reference_text

    name, strip = next(iter(strips.items()))
    reference = true_reference(strip, noise=READING_NOISE, rng=rng)
    _write_text(path, reference_text(reference, name), force)


def _write_text(path: Path, text: str, force: bool) -> None:
    with written_whole(path, force=force) as part:
        part.write_text(text, encoding="utf-8")


def _story(job: Preset, scene: Scene, scanner: ScannerModel) -> str:
    count = len(job.tiles)
    lines = [
        scene.title,
        "",
        scene.story,
        "",
        f"Painting: {scene.width:g} x {scene.height:g} mm. Scans: {count}, {scanner.ppi:g} ppi, "
        f"{scanner.bits} bit, lamp {scanner.lamp}.",
        f"This job: {job.about}.",
        "Painter, town and painting are invented; the scans are computed.",
        "",
    ]
    return "\n".join(lines)
