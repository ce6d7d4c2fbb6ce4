"""How surely strips are found, and how exactly: over random invented scans.

``python -m tests.benchmarks.bench_finding [--scenes N] [--jobs N] [--first N]``

Scene ``i`` is drawn from the seed ``i`` alone, so that any one can be looked at again.
Three of four have a strip (some two): at all quarter turns within 10 degrees, one in
eight at any angle; 150 to 600 pixels per inch, one in twenty-five at 1200; one in
three with a mark covered, one in six with a patch covered; one in four with a
resolution that is missing or wrong. The others have rings only, or a strip in mirror
image, or a sheet with the strip's marks and other colours.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.finding.poses import applied
from colormatch.finding.strips import explain_missing, find_strips
from colormatch.model import FloatArray, Layout, Reference, StripReading
from colormatch.symbols.sheets import SERIAL_CHARACTERS
from tests.finding import scenes

FOUND_WITHIN = 2.0
"""Pixels (mean over the patches) within which a strip counts as found."""

OVERVIEW_PPI = 75.0
A4_LONG_INCH = 11.7


@dataclass(kw_only=True)
class Laid:
    """One strip in a scene, and the truth about it."""

    layout: Layout
    px_from_mm: FloatArray
    light: dict[str, FloatArray]
    serial: str = ""
    covered_mark: str | None = None
    covered_patch: str | None = None


@dataclass(kw_only=True)
class Result:
    """What one scene showed."""

    seed: int
    kind: str
    ppi: float
    strips: int = 0
    misses: int = 0
    false_finds: int = 0
    centre_errors: list[float] = field(default_factory=list)
    patch_errors: list[float] = field(default_factory=list)
    symbols: int = 0
    symbols_read: int = 0
    symbols_wrong: int = 0
    trusted_scraps: int = 0
    refused: int = 0
    seconds: float = 0.0
    megapixels: float = 0.0
    words: str = ""


def run(seed: int) -> Result:
    """Draw one scene, look for strips, and compare with the truth."""
    rng = np.random.default_rng(seed)
    layouts = shipped_layouts()
    references = {name: shipped_reference(name) for name in layouts}
    ppi = 1200.0 if seed % 25 == 24 else float(rng.choice([150, 200, 240, 300, 400, 600]))
    kind = _kind(seed)
    layout = layouts["strip-short" if ppi == 1200 or rng.random() < 0.4 else "strip-long"]
    scene = _scene(layout, ppi, kind, rng)
    sheet = scenes.canvas(scene, rng)
    laid = _lay(sheet, layout, references, kind, rng, seed)
    picture = scenes.scanned(sheet)
    stated = _stated(ppi, rng)
    step = _step(scene, stated)
    small = scenes.overview_of(picture, step)
    size = (scene.width, scene.height)
    started = time.perf_counter()
    found = find_strips(
        small,
        step,
        scenes.Windows(picture),
        size,
        tuple(layouts.values()),
        references=references,
        ppi=stated,
    )
    result = Result(seed=seed, kind=kind, ppi=ppi, seconds=time.perf_counter() - started)
    result.megapixels = picture.shape[0] * picture.shape[1] / 1e6
    if not found:
        result.words = explain_missing(small, step, size, tuple(layouts.values()), ppi=stated)
    _compare(result, scene, laid if kind in ("one", "two") else [], found)
    return result


def _kind(seed: int) -> str:
    """Say what is in the scene."""
    if seed % 4:
        return "two" if seed % 12 == 1 else "one"
    return ("rings", "mixed", "mirror", "wrong")[seed // 4 % 4]


def _scene(layout: Layout, ppi: float, kind: str, rng: np.random.Generator) -> scenes.Scene:
    """Choose the picture's size and the scanner's faults."""
    per_mm = ppi / 25.4
    long_side = min((layout.width + rng.uniform(12, 60)) * per_mm, 5600)
    short_side = long_side * rng.uniform(0.55, 0.8)
    painting = "rings" if kind == "rings" else "mixed"
    return scenes.any_scanner((long_side, short_side), ppi, painting, rng)


def _lay(
    sheet: scenes.Canvas,
    layout: Layout,
    references: Mapping[str, Reference],
    kind: str,
    rng: np.random.Generator,
    seed: int,
) -> list[Laid]:
    """Lay what the scene's kind asks for."""
    if kind in ("rings", "mixed"):
        return []
    light = scenes.printed(references[layout.name], rng)
    if kind == "wrong":
        shuffled = rng.permutation(len(light))
        values = list(light.values())
        light = {name: values[k] for name, k in zip(light, shuffled, strict=True)}
    laid: list[Laid] = []
    for i in range(2 if kind == "two" else 1):
        px_from_mm = _place(sheet.scene, layout, rng, row=i if kind == "two" else None)
        if kind == "mirror":
            px_from_mm = px_from_mm @ np.array([[-1, 0, layout.width], [0, 1, 0], [0, 0, 1.0]])
        # Its own source of chance: the scenes stay what they were before there were symbols.
        serial = _serial(np.random.default_rng((seed, i)))
        scenes.lay_strip(sheet, layout, light, px_from_mm, serial)
        laid.append(Laid(layout=layout, px_from_mm=px_from_mm, light=light, serial=serial))
        _cover(sheet, laid[-1], rng)
    return laid


def _serial(rng: np.random.Generator) -> str:
    """Choose a serial; one sheet in ten was printed before there were any."""
    drawn = "".join(rng.choice(list(SERIAL_CHARACTERS), 6))
    return f"{drawn[:3]}-{drawn[3:]}" if rng.random() < 0.9 else ""


def _place(
    scene: scenes.Scene, layout: Layout, rng: np.random.Generator, row: int | None
) -> FloatArray:
    """Choose a pose that keeps the whole strip in the picture."""
    tall = scene.height > scene.width
    for attempt in range(200):
        degrees = float(90 * rng.integers(0, 4) + rng.uniform(-10, 10) * (1 - attempt / 200))
        if rng.random() < 0.12:
            degrees = rng.uniform(0, 360)
        if row is not None:
            degrees = float(90 * tall + 180 * rng.integers(0, 2) + rng.uniform(-2, 2))
        centre = [rng.uniform(0.15, 0.85) * scene.width, rng.uniform(0.15, 0.85) * scene.height]
        if row is not None:
            side = 0 if tall else 1
            centre[side] = (0.3 + 0.4 * row) * (scene.width, scene.height)[side]
            centre[1 - side] = 0.5 * (scene.width, scene.height)[1 - side]
        stretch = (rng.uniform(0.997, 1.003), rng.uniform(0.997, 1.003))
        px_from_mm = scenes.pose(layout, (centre[0], centre[1]), scene.ppi, degrees, stretch)
        ends = applied(
            px_from_mm, np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * (layout.width, layout.height)
        )
        if (ends > 2).all() and (ends < np.array([scene.width, scene.height]) - 3).all():
            return px_from_mm
    degrees = 90.0 if tall else 0.0
    middle = (scene.width / 2, scene.height / 2)
    return scenes.pose(layout, middle, scene.ppi, degrees, (1.0, 1.0))


def _cover(sheet: scenes.Canvas, strip: Laid, rng: np.random.Generator) -> None:
    """Cover a mark, a part of one, or a patch, now and then."""
    layout = strip.layout
    chance = rng.random()
    if chance < 0.33:
        mark = layout.marks[rng.integers(len(layout.marks))]
        if chance < 0.25:
            radius, off = rng.uniform(3.6, 4.4), np.zeros(2)
        else:
            radius, off = rng.uniform(0.7, 1.6), rng.uniform(-2, 2, 2)
        scenes.cover(sheet, strip.px_from_mm, (mark.x + off[0], mark.y + off[1]), radius)
        strip.covered_mark = mark.id if chance < 0.25 else None
    if rng.random() < 0.17:
        patch = layout.patches[rng.integers(len(layout.patches) - 2)]
        middle = (patch.x + rng.uniform(1, 5), patch.y + rng.uniform(1, 5))
        scenes.cover(sheet, strip.px_from_mm, middle, rng.uniform(2, 3))
        strip.covered_patch = patch.id


def _stated(ppi: float, rng: np.random.Generator) -> tuple[float, float] | None:
    """Give the resolution as a file might state it."""
    chance = rng.random()
    if chance < 0.15:
        return None
    if chance < 0.25:
        return (72.0, 72.0) if ppi <= 300 else (300.0, 300.0)
    return (ppi, ppi)


def _step(scene: scenes.Scene, stated: tuple[float, float] | None) -> int:
    """Choose how far to reduce the picture, as whoever knows no better would."""
    long_side = max(scene.width, scene.height)
    ppi = stated[0] if stated else long_side / A4_LONG_INCH
    return max(1, round(ppi / OVERVIEW_PPI))


def _compare(
    result: Result, scene: scenes.Scene, laid: list[Laid], found: list[StripReading]
) -> None:
    """Match what was found with what was there."""
    result.strips = len(laid)
    left = list(found)
    for truth in laid:
        match = next((strip for strip in left if _same(strip, truth)), None)
        if match is None:
            result.misses += 1
            continue
        left.remove(match)
        _measure(result, scene, truth, match)
    result.false_finds = len(left)


def _same(strip: StripReading, truth: Laid) -> bool:
    if strip.layout.name != truth.layout.name:
        return False
    away = strip.centres - applied(truth.px_from_mm, _middles(truth.layout))
    return float(np.linalg.norm(away, axis=1).mean()) < FOUND_WITHIN


def _middles(layout: Layout) -> FloatArray:
    return np.array([(p.x + p.width / 2, p.y + p.height / 2) for p in layout.patches])


def _measure(result: Result, scene: scenes.Scene, truth: Laid, strip: StripReading) -> None:
    """Measure centres, patch means and what the symbol says against the truth."""
    result.symbols += bool(truth.serial)
    result.symbols_read += bool(truth.serial) and strip.serial == truth.serial
    result.symbols_wrong += strip.serial not in ("", truth.serial)
    for mark in truth.layout.marks:
        if mark.id in strip.marks_px:
            exact = applied(truth.px_from_mm, np.array([mark.x, mark.y]))
            away = np.hypot(*(exact - strip.marks_px[mark.id]))
            result.centre_errors.append(float(away))
    light = np.array([truth.light[patch.id] for patch in truth.layout.patches])
    fall = 1 - scene.gradient * strip.centres[:, :1] / (scene.width - 1)
    encoded = np.clip(light * fall, 0, 1) ** (1 / scene.gamma)
    errors = np.abs(strip.rgb - encoded).max(axis=1)
    for patch, error, usable in zip(truth.layout.patches, errors, strip.usable, strict=True):
        if patch.id == truth.covered_patch:
            result.trusted_scraps += bool(usable and error > 0.02)
        elif usable:
            result.patch_errors.append(float(error))
        else:
            result.refused += 1


def report(results: list[Result]) -> list[str]:
    """Put the figures into lines."""
    with_strips = [r for r in results if r.strips]
    centre = np.array([e for r in results for e in r.centre_errors])
    patch = np.array([e for r in results for e in r.patch_errors])
    seconds = np.array([r.seconds for r in results])
    lines = [
        f"scenes              {len(results)}, {len(with_strips)} with strips "
        f"({sum(r.strips for r in results)} strips)",
        f"misses              {sum(r.misses for r in results)}",
        f"false finds         {sum(r.false_finds for r in results)}",
        f"mark centres, px    rms {np.sqrt(np.mean(centre**2)):.4f}  "
        f"P95 {np.quantile(centre, 0.95):.4f}  max {centre.max():.4f}  ({len(centre)} marks)",
        f"patch means         mean {patch.mean():.5f}  P95 {np.quantile(patch, 0.95):.5f}  "
        f"max {patch.max():.5f} of full scale, worst channel",
        f"symbols             {sum(r.symbols_read for r in results)} of "
        f"{sum(r.symbols for r in results)} read, {sum(r.symbols_wrong for r in results)} read "
        f"wrong; unread per ppi: {_unread(results)}",
        f"covered, trusted    {sum(r.trusted_scraps for r in results)} patches",
        f"clean, refused      {sum(r.refused for r in results)} of {len(patch)} patches",
        f"seconds per scan    median {np.median(seconds):.2f}  P95 "
        f"{np.quantile(seconds, 0.95):.2f}  max {seconds.max():.2f}",
    ]
    for r in results:
        worst = max(r.centre_errors, default=0.0)
        if r.misses or r.false_finds or worst > 0.05:
            lines.append(
                f"  seed {r.seed}: {r.kind}, {r.ppi:.0f} ppi, {r.misses} missed, "
                f"{r.false_finds} false, worst centre {worst:.3f} px. {r.words}"
            )
    return lines


def _unread(results: list[Result]) -> str:
    """Say at which resolutions symbols stayed unread."""
    left: dict[float, int] = {}
    for r in results:
        left[r.ppi] = left.get(r.ppi, 0) + r.symbols - r.symbols_read
    return (
        ", ".join(f"{ppi:.0f}: {count}" for ppi, count in sorted(left.items()) if count) or "none"
    )


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description="How surely and exactly strips are found.")
    parser.add_argument("--scenes", type=int, default=520)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--first", type=int, default=0)
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.scenes)
    with ProcessPoolExecutor(options.jobs) as pool:
        results = list(pool.map(run, seeds))
    sys.stdout.write("\n".join(report(results)) + "\n")


if __name__ == "__main__":
    main()
