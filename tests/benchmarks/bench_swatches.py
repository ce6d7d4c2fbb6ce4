"""Gain of own paints: ``python -m tests.benchmarks.bench_swatches [PPI] [PRESET…]``.

Scans ready-made scenes of the demo with a sheet of 24 paints, read with 0.3 ΔE of noise,
matches them through files with and without it, and prints the mean and P95 of ΔE2000 on
the painting, measured as `bench_colour` does, beside the map that was chosen. The sheet
holds mixtures of the picture itself (``own``), every tube plainly and with white
(``tubes``), or ten tubes of the fifteen the picture is painted with (``ten-tubes``).
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

from colormatch.job.matching import match
from colormatch.job.options import MatchOptions
from colormatch.model import FloatArray
from colormatch.verdict import JobReport
from demo.run import DemoFiles, draw
from demo.swatches import CHOICES
from tests.benchmarks.bench_colour import against_truth, matched_xyz

PRESETS = ("fluorescent", "two-tiles", "three-led", "dark-oil")
AIMS = {("fluorescent", "own"): 1.2}
SEEDS = (0, 1, 2)


def on_painting(files: DemoFiles, report: JobReport, ppi: float) -> FloatArray:
    """ΔE2000 over the painting in all tiles."""
    if report.failed:
        raise RuntimeError([tile.error for tile in report.tiles])
    errors = [
        against_truth(matched_xyz(Path(tile.written or "")), truth, ppi)
        for tile, truth in zip(report.tiles, files.truth, strict=True)
    ]
    return np.concatenate(errors)


def measure(preset: str, choice: str, ppi: float, seed: int) -> tuple[str, float]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = draw(folder / "scans", preset=preset, ppi=ppi, seed=seed, swatches=choice)
        plain = MatchOptions(reference=files.reference, out=folder / "plain", space="oprgb")
        paints = MatchOptions(
            reference=files.reference,
            out=folder / "paints",
            space="oprgb",
            swatches=files.swatches,
            swatch_reference=files.swatch_reference,
        )
        before = on_painting(files, match(files.scans, plain), ppi)
        report = match(files.scans, paints)
        after = on_painting(files, report, ppi)
    swatches = report.swatches
    if swatches is None:
        raise RuntimeError("the paints took no part")
    out = swatches.chosen.paint_left_out
    aim = AIMS.get((preset, choice))
    return (
        f"{preset:11s} {choice:9s} seed {seed}: ink alone {before.mean():.2f}/"
        f"{np.percentile(before, 95):.2f}, with paints {after.mean():.2f}/"
        f"{np.percentile(after, 95):.2f}{f' (aim {aim})' if aim else ''}; {swatches.model}; "
        f"paints left out {out.mean:.2f}/{out.p95:.2f}, gain {swatches.gain or 0:.2f}, "
        f"cover {swatches.cover or 0:.2f}"
    ), float(after.mean())


def main() -> None:
    ppi = float(sys.argv[1]) if len(sys.argv) > 1 else 150.0
    for preset in sys.argv[2:] or PRESETS:
        for choice in CHOICES:
            means = []
            for seed in SEEDS:
                line, mean = measure(preset, choice, ppi, seed)
                means.append(mean)
                sys.stdout.write(line + "\n")
                sys.stdout.flush()
            sys.stdout.write(f"{preset:11s} {choice:9s} all seeds: {np.mean(means):.2f}\n")


if __name__ == "__main__":
    main()
