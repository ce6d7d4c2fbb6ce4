"""Merged pictures against the truth: ``python -m tests.benchmarks.bench_merge [PPI]``.

Scans the demo's paintings with one trouble at a time, merges the files as a
user would, and prints against the truth:

- mean ΔE2000 over the whole picture, noise and relief below 0.4 mm blurred;
- unevenness: P95 of ΔE2000 over 4 mm after a cubic function of colour alone has
  taken out what three channels cannot tell about paints, so that what depends
  on the place, light and seams, remains;
- placing: RMS and largest distance, in pixels, between what two tiles show at
  one place of the picture;
- detail: texture found again in the worst 2 % of blocks, over the median.

The aims stand beside the figures.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from itertools import combinations, combinations_with_replacement
from pathlib import Path

import numpy as np
import tifffile

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz, rgb_space
from colormatch.files.references import reference_text
from colormatch.job.checking import measure
from colormatch.job.merging import MergePlan, plan_merge
from colormatch.job.options import MergeOptions
from colormatch.joining.rendering import Renderer
from colormatch.model import FloatArray, Window, silent
from demo import faults
from demo.presets import Preset, presets
from demo.run import _printed as printed
from demo.scanner import ScanResult, scan_tile
from demo.scene import make_scene
from demo.settings import Crease, Lifted
from demo.strip import true_reference

NAMES = ("even", "vignetting", "blank", "turned", "lifted", "no-strip", "two-by-two")
AIMS = {
    "even": "mean 0.9, unevenness 0.3, placing 0.06",
    "vignetting": "unevenness 1.2",
    "blank": "unevenness 0.7: the same with a blank sheet",
    "turned": "mean 0.9, placing 0.06",
    "lifted": "detail 0.93, unevenness 0.6",
    "no-strip": "mean 1.2",
    "two-by-two": "placing 0.2 / 0.5, unevenness 0.5",
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """Scans on disk and what is true about them."""

    scans: tuple[Path, ...]
    reference: Path
    results: tuple[ScanResult, ...]
    ppi: float


def job(name: str) -> Preset:
    """Set up one trouble at a time."""
    ready = presets()
    base = ready["two-tiles"]
    plain = replace(base.scanner, wobble=0.0, stretch=1.0, vignette=0.0, tilt=0.0)
    first, second = base.tiles
    make: dict[str, Callable[[], Preset]] = {
        "even": lambda: replace(base, scanner=plain),
        "vignetting": lambda: replace(
            base,
            scanner=replace(plain, vignette=0.05, tilt=0.015),
            tiles=(first, replace(second, crease=Crease(side="left", distance=62, depth=0.22))),
        ),
        "turned": lambda: replace(
            ready["turned"], scanner=replace(ready["turned"].scanner, wobble=0.0, stretch=1.0)
        ),
        "lifted": lambda: replace(
            base,
            scanner=plain,
            tiles=(first, replace(second, lifted=Lifted(side="left", width=91, blur=0.6))),
        ),
        "no-strip": lambda: replace(
            base, scanner=replace(plain, tone="s-curve"), tiles=(first, replace(second, strips=()))
        ),
        "two-by-two": lambda: four(ready["four-tiles"]),
    }
    return make["vignetting" if name == "blank" else name]()


def four(base: Preset) -> Preset:
    # 0.6 px at 300 ppi is 0.05 mm.
    scanner = replace(
        base.scanner, sensor="broad", wobble=0.05, stretch=1.0004, vignette=0.04, tilt=0.0
    )
    last = replace(base.tiles[3], strips=())
    return replace(base, scanner=scanner, tiles=(*base.tiles[:3], last))


def scanned(preset: Preset, folder: Path, ppi: float, seed: int) -> Case:
    """Scan a job into a folder, truth kept in memory."""
    scene = make_scene(preset.kind, seed=seed, size=preset.size, ppi=2 * ppi)
    strips = printed(preset)
    scanner = replace(preset.scanner, ppi=ppi)
    results, paths = [], []
    for number, tile in enumerate(preset.tiles):
        rng = np.random.default_rng(100 * seed + number)
        results.append(scan_tile(scene, scanner, tile, strips=strips, rng=rng))
        paths.append(folder / f"tile-{number + 1}.tif")
        tifffile.imwrite(
            paths[-1],
            results[-1].pixels,
            photometric="rgb",
            resolution=(ppi, ppi),
            resolutionunit="INCH",
            metadata=None,
        )
    name, strip = next(iter(strips.items()))
    reference = folder / "strip.txt"
    measured = true_reference(strip, noise=0.15, rng=np.random.default_rng(seed))
    reference.write_text(reference_text(measured, name), encoding="utf-8")
    return Case(scans=tuple(paths), reference=reference, results=tuple(results), ppi=ppi)


def blank_sheet(preset: Preset, folder: Path, ppi: float, seed: int = 0) -> Path:
    """Scan plain white paper over the whole glass, with dust on it."""
    scanner, tile = replace(preset.scanner, ppi=ppi), preset.tiles[0]
    rng = np.random.default_rng(seed)
    along, across = faults.lighting(scanner)
    light = np.full((*scanner.shape, 3), 0.83, np.float32)
    light *= along
    light *= across
    light = faults.soiled(light, tile, ppi, rng)
    light = faults.scattered(light, scanner)
    light *= np.float32(tile.exposure) * np.asarray(tile.gains, np.float32)
    pixels = faults.quantised(faults.noisy(light, scanner, rng), scanner)
    path = folder / "blank.tif"
    tifffile.imwrite(path, pixels, photometric="rgb", resolution=(ppi, ppi), resolutionunit="INCH")
    return path


def figures(case: Case, **options: object) -> dict[str, float]:
    """Merge a case and compare with the truth."""
    chosen = MergeOptions(
        reference=case.reference,
        out=case.scans[0].parent / "merged.tif",
        space="oprgb",
        **options,  # type: ignore[arg-type]
    )
    with ExitStack() as stack:
        measured = measure(case.scans, chosen, stack, silent)
        plan = plan_merge(case.scans, chosen, measured, stack, silent)
        light = np.concatenate(list(Renderer(picture=plan.picture).light()))
        xyz = light @ rgb_space("oprgb").xyz_from_rgb.T.astype(np.float32)
        return {**colour_figures(xyz, plan, case), **placing_figures(plan, case)}


def truth_of(plan: MergePlan, case: Case) -> tuple[FloatArray, FloatArray]:
    """Give the true XYZ at each pixel of the merged picture, and where it is known."""
    import cv2

    height, width = plan.placement.height, plan.placement.width
    labels = plan.joined.seams.labels(Window(row=0, column=0, height=height, width=width))
    columns, rows = np.arange(width, dtype=float), np.arange(height, dtype=float)
    true = np.zeros((height, width, 3), np.float32)
    known = np.zeros((height, width), bool)
    for number, result in enumerate(case.results):
        x, y = plan.placement.scan_map(number, columns, rows)
        there = cv2.remap(result.xyz, x, y, cv2.INTER_LANCZOS4)
        inside = cv2.remap(result.painting.astype(np.float32), x, y, cv2.INTER_LINEAR)
        mine = labels == number
        true[mine] = there[mine]
        known |= mine & (np.asarray(inside) > 0.999)
    return true, known


def colour_figures(xyz: FloatArray, plan: MergePlan, case: Case) -> dict[str, float]:
    import cv2

    true, known = truth_of(plan, case)

    def soft(picture: FloatArray, mm: float) -> FloatArray:
        sigma = mm * case.ppi / 25.4
        weight = cv2.GaussianBlur(known.astype(np.float32), (0, 0), sigma)
        masked = np.where(known[..., None], picture, 0).astype(np.float32)
        blurred = np.asarray(cv2.GaussianBlur(masked, (0, 0), sigma))
        return blurred / np.maximum(np.asarray(weight), 1e-3)[..., None]

    fine = [lab_from_xyz(np.maximum(soft(p, 0.4)[known][::7], 0)) for p in (xyz, true)]
    wide = [soft(p, 4.0)[known][::23].astype(float) for p in (xyz, true)]
    lab, wanted = (lab_from_xyz(np.maximum(p, 0)) for p in wide)
    terms = cubic_terms(lab / 50)
    uneven = delta_e_2000(terms @ np.linalg.lstsq(terms, wanted, rcond=None)[0], wanted)
    return {
        "mean": float(delta_e_2000(*fine).mean()),
        "unevenness": float(np.percentile(uneven, 95)),
        "detail": detail(xyz[..., 1], true[..., 1], known),
    }


def cubic_terms(lab: FloatArray) -> FloatArray:
    """Give all products of up to three of L*, a*, b*, shape (N, 20)."""
    padded = np.column_stack([np.ones(len(lab)), lab])
    picks = combinations_with_replacement(range(4), 3)
    return np.stack([padded[:, list(pick)].prod(axis=1) for pick in picks], axis=1)


def detail(picture: FloatArray, true: FloatArray, known: FloatArray) -> float:
    """Texture of the picture over the truth's, worst 2 % of blocks over the median."""
    import cv2

    side = 32
    rows, columns = (n // side for n in known.shape)

    def energy(p: FloatArray) -> FloatArray:
        band = cv2.GaussianBlur(p, (0, 0), 1.0) - cv2.GaussianBlur(p, (0, 0), 3.0)
        cut = np.asarray(band)[: rows * side, : columns * side]
        return np.asarray(cut.reshape(rows, side, columns, side).std(axis=(1, 3)))

    cut = known[: rows * side, : columns * side].reshape(rows, side, columns, side)
    ours, theirs = energy(picture), energy(true)
    busy = cut.all(axis=(1, 3)) & (theirs > np.median(theirs) / 3)
    ratio = ours[busy] / theirs[busy]
    return float(np.percentile(ratio, 2) / np.median(ratio))


def placing_figures(plan: MergePlan, case: Case) -> dict[str, float]:
    """Distance between what two tiles show at one place of the picture."""
    spacing = 40
    x, y = np.meshgrid(
        np.arange(spacing / 2, plan.placement.width, spacing),
        np.arange(spacing / 2, plan.placement.height, spacing),
    )
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    found = [on_sheet(plan, case.results[k], k, points) for k in range(len(case.results))]
    gaps = [np.hypot(*(a - b)[np.isfinite(a - b).all(axis=1)].T) for a, b in combinations(found, 2)]
    together = np.concatenate(gaps) * case.ppi / 25.4
    return {"placing": float(np.sqrt((together**2).mean())), "largest": float(together.max())}


def on_sheet(plan: MergePlan, result: ScanResult, tile: int, points: FloatArray) -> FloatArray:
    """Give true painting millimetres of canvas points; NaN where the tile does not show paint."""
    scan = plan.placement.scan_from_canvas(tile, points)
    columns, rows = np.round(scan).astype(int).T
    height, width = result.painting.shape
    inside = (rows >= 0) & (rows < height) & (columns >= 0) & (columns < width)
    inside[inside] &= result.painting[rows[inside], columns[inside]]
    sheet = np.asarray(result.map.sheet_from_px(scan), dtype=float)
    sheet[~inside] = np.nan
    return sheet


def main() -> None:
    ppi = float(sys.argv[1]) if len(sys.argv) > 1 else 150.0
    names = sys.argv[2:] or NAMES
    for name in names:
        with tempfile.TemporaryDirectory() as folder:
            case = scanned(job(name), Path(folder), ppi, seed=0)
            blank = blank_sheet(job(name), Path(folder), ppi) if name == "blank" else None
            found = figures(case, blank=blank)
        line = ", ".join(f"{key} {value:.3f}" for key, value in found.items())
        sys.stdout.write(f"{name:11s} {line}  (aim: {AIMS[name]})\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
