"""Matched tiles against the truth: ``python -m tests.benchmarks.bench_colour [PPI]``.

Scans every ready-made scene of the demo, matches it through files as a user
would, and prints per tile the mean and P95 of ΔE2000 against the painting's
true colour over the whole painting, then how far tiles agree where they
overlap after blurring over 2 mm. The aims stand beside the figures.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz, rgb_space
from colormatch.job.matching import match
from colormatch.job.options import MatchOptions
from colormatch.model import FloatArray
from demo.run import XYZ_SCALE, DemoFiles, draw

AIMS = {
    "two-tiles": 0.9,
    "dark-oil": 1.3,
    "fluorescent": 2.4,
    "three-led": 3.3,
    "four-tiles": 0.9,
    "turned": 0.9,
}
BLUR_MM = 2.0
GRAIN_MM = 0.4


def matched_xyz(path: Path) -> FloatArray:
    """XYZ of a matched tile written as 16-bit opRGB."""
    import tifffile

    space = rgb_space("oprgb")
    encoded = tifffile.imread(path).astype(np.float32) / 65535
    return np.asarray(space.decode(encoded) @ space.xyz_from_rgb.T, dtype=np.float32)


def softened(xyz: FloatArray, mm: float, ppi: float) -> FloatArray:
    """Blur by a Gaussian of that standard deviation."""
    import cv2

    return np.asarray(cv2.GaussianBlur(xyz, (0, 0), max(mm * ppi / 25.4, 0.3)))


def against_truth(picture: FloatArray, truth: Path, ppi: float) -> FloatArray:
    """ΔE2000 over the painting; noise and relief finer than `GRAIN_MM` are blurred in both.

    The truth has no noise and no relief lit from one side: neither is colour.
    """
    stored = np.load(truth)
    true = stored["xyz"].astype(np.float32) / XYZ_SCALE
    inside = stored["painting"]
    pair = [softened(xyz, GRAIN_MM, ppi)[inside][::7] for xyz in (picture, true)]
    return delta_e_2000(*(lab_from_xyz(np.maximum(xyz, 0)) for xyz in pair))


def overlap(pictures: list[FloatArray], truths: list[Path], ppi: float) -> float:
    """Mean ΔE2000 between the first two tiles where both show the painting."""
    import cv2

    one, other = (np.load(path) for path in truths[:2])
    first = np.vstack([one["sheet_from_px"], [0, 0, 1]])
    second = np.vstack([other["sheet_from_px"], [0, 0, 1]])
    there = (np.linalg.inv(second) @ first)[:2]
    size = (pictures[0].shape[1], pictures[0].shape[0])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    moved = cv2.warpAffine(softened(pictures[1], BLUR_MM, ppi), there, size, flags=flags)
    inside = cv2.warpAffine(other["painting"].astype(np.float32), there, size, flags=flags)
    margin = max(3, int(2 * BLUR_MM * ppi / 25.4))
    both = ((inside > 0.99) & one["painting"]).astype(np.uint8)
    both = cv2.erode(both, np.ones((margin, margin), np.uint8)) > 0
    a, b = softened(pictures[0], BLUR_MM, ppi)[both][::5], moved[both][::5]
    return float(np.mean(delta_e_2000(lab_from_xyz(a), lab_from_xyz(b))))


def run(preset: str, folder: Path, ppi: float, seed: int) -> tuple[DemoFiles, list[Path]]:
    files = draw(folder / "scans", preset=preset, ppi=ppi, seed=seed)
    options = MatchOptions(reference=files.reference, out=folder / "matched", space="oprgb")
    report = match(files.scans, options)
    if report.failed:
        raise RuntimeError([tile.error for tile in report.tiles])
    return files, [Path(tile.written or "") for tile in report.tiles]


def measure(preset: str, ppi: float, seed: int) -> str:
    with tempfile.TemporaryDirectory() as name:
        files, written = run(preset, Path(name), ppi, seed)
        pictures = [matched_xyz(path) for path in written]
        errors = [
            against_truth(picture, truth, ppi)
            for picture, truth in zip(pictures, files.truth, strict=True)
        ]
        agree = overlap(pictures, list(files.truth), ppi)
    means = " ".join(f"{e.mean():.2f}/{np.percentile(e, 95):.2f}" for e in errors)
    return (
        f"{preset:12s} seed {seed}: mean/P95 per tile {means}; "
        f"all {np.concatenate(errors).mean():.2f} (aim {AIMS[preset]}); "
        f"overlap {agree:.2f} (aim 0.25 on two-tiles)"
    )


def main() -> None:
    ppi = float(sys.argv[1]) if len(sys.argv) > 1 else 150.0
    for preset in AIMS:
        for seed in (0, 1, 2):
            sys.stdout.write(measure(preset, ppi, seed) + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
