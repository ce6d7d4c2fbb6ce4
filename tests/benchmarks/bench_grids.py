"""How surely a chart without marks is found, and how exactly: over random invented scans.

``python -m tests.benchmarks.bench_grids [--scenes N] [--jobs N] [--first N]``

Scene ``i`` is drawn from the seed ``i`` alone. Two of three have a 12 x 4 chart printed by
the demo's inks beside a painting: at all quarter turns within 5 degrees; half of them at
300 pixels per inch, the others at 75 to 1200 (one in forty); patches that touch or have
gaps, on black, white or grey; some neighbours of nearly one colour; three lamps, a cast,
exposure off by up to a stop; dust, hairs, a covered part; one in six without a resolution,
or with a wrong one. The rest have none: paintings, paintings full of squares, the same
grid in other colours or in another order, or with other rows and columns.
"""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.finding.grids import find_chart
from colormatch.finding.poses import applied
from colormatch.model import FloatArray, Layout
from demo.spectra import LAMPS, SENSORS
from tests.finding import charts, scenes

FOUND_MM = 0.5
"""Mean distance of the patches within which the chart counts as found."""

WANTED_PX = 0.5
"""At 300 pixels per inch, at most, for every patch."""

OVERVIEW_PPI = 75.0
A4_LONG_INCH = 11.7
WITHOUT = ("mixed", "squares", "colours", "order", "shape", "rings")


@dataclass(kw_only=True)
class Result:
    """What one scene showed; distances of all patches in scan pixels."""

    seed: int
    kind: str
    ppi: float
    turn: int
    found: bool
    away: FloatArray
    trusted_scraps: int = 0
    patches_used: int = 0
    seconds: float = 0.0
    megapixels: float = 0.0
    reason: str = ""

    @property
    def wrong(self) -> bool:
        """Whether something was taken for the chart that is none."""
        return self.found and (self.kind != "chart" or self.away.mean() > self.limit)

    @property
    def limit(self) -> float:
        """Pixels within which a chart is found."""
        return FOUND_MM * self.ppi / 25.4


def run(seed: int) -> Result:
    """Draw one scene, look for the chart, and compare with the truth."""
    rng = np.random.default_rng(seed)
    kind = "chart" if seed % 3 else WITHOUT[seed // 3 % len(WITHOUT)]
    layout = _layout(rng)
    chart = charts.printed_chart(layout, rng, twins=int(rng.integers(0, 9)))
    ppi = 300.0 if seed % 2 else float(rng.choice([75, 100, 150, 200, 240, 400, 600]))
    if seed % 40 == 2:
        ppi = 1200.0
    scene = _scene(layout, ppi, kind, rng)
    sheet = scenes.canvas(scene, rng)
    if kind == "squares" or rng.random() < 0.3:
        charts.paint_squares(sheet, layout, rng)
    turn = seed // 3 % 4
    pose = _place(scene, layout, turn, rng)
    covered = _lay(sheet, chart, kind, pose, rng)
    sheet.light *= rng.uniform(0.85, 1.0, 3).astype(np.float32)
    picture = scenes.scanned(sheet, gain=float(2 ** rng.uniform(-1.0, 1.0)))
    stated = _stated(ppi, rng)
    step = _step(scene, stated)
    small = scenes.overview_of(picture, step)
    started = time.process_time()
    found = find_chart(
        small,
        step,
        scenes.Windows(picture),
        (scene.width, scene.height),
        layout,
        chart.reference,
        ppi=stated,
    )
    seconds = time.process_time() - started
    result = Result(
        seed=seed,
        kind=kind,
        ppi=ppi,
        turn=turn,
        found=found.strip is not None,
        away=np.zeros(0),
        seconds=seconds,
        megapixels=picture.shape[0] * picture.shape[1] / 1e6,
        reason=found.reason,
    )
    if found.strip is not None:
        truth = applied(pose, charts.centres(layout))
        result.away = np.linalg.norm(found.strip.centres - truth, axis=1)
        result.patches_used = int(found.strip.usable.sum())
        result.trusted_scraps = int((found.strip.usable & covered).sum())
    return result


def _layout(rng: np.random.Generator) -> Layout:
    """Choose a plain 12 x 4 grid."""
    side = rng.uniform(5.0, 8.0)
    gap = float(rng.choice([0.0, rng.uniform(0.3, 2.0)]))
    return charts.chart_layout(
        4,
        12,
        patch=(side, side * rng.uniform(0.85, 1.15)),
        gap=(gap, gap),
        rim=rng.uniform(0.5, 5.0),
        ground=str(rng.choice(["black", "white", "grey"])),
    )


def _scene(layout: Layout, ppi: float, kind: str, rng: np.random.Generator) -> scenes.Scene:
    """Choose the picture's size and the scanner's faults; 6000 pixels of side at most."""
    per_mm = ppi / 25.4
    room = layout.width * 1.12 + layout.height
    side = min((room + rng.uniform(5, 60)) * per_mm, 6000)
    other = max(side * rng.uniform(0.75, 1.0), min(room * per_mm, side))
    painting = "rings" if kind == "rings" else "mixed"
    return scenes.any_scanner((side, other), ppi, painting, rng)


def _place(scene: scenes.Scene, layout: Layout, turn: int, rng: np.random.Generator) -> FloatArray:
    """Choose a pose that keeps the chart in the picture."""
    ends = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * (layout.width, layout.height)
    size = np.array([scene.width, scene.height])
    for attempt in range(400):
        centre = rng.uniform(0.1, 0.9, 2) * size
        degrees = 90 * turn + rng.uniform(-5, 5) * (1 - attempt / 400)
        stretch = (rng.uniform(0.995, 1.005), rng.uniform(0.995, 1.005))
        pose = scenes.pose(layout, (centre[0], centre[1]), scene.ppi, degrees, stretch)
        if (applied(pose, ends) > 2).all() and (applied(pose, ends) < size - 3).all():
            return pose
    return scenes.pose(layout, (size[0] / 2, size[1] / 2), scene.ppi, 90.0 * turn)


def _lay(
    sheet: scenes.Canvas,
    chart: charts.Chart,
    kind: str,
    pose: FloatArray,
    rng: np.random.Generator,
) -> NDArray[np.bool_]:
    """Lay what the scene's kind asks for; tell which patches are covered."""
    layout = chart.layout
    light = chart.light(str(rng.choice(LAMPS)), str(rng.choice(SENSORS)))
    light *= np.exp(rng.normal(0, 0.004, light.shape))
    covered = np.zeros(len(light), dtype=np.bool_)
    if kind == "colours":
        other = charts.printed_chart(layout, rng)
        charts.lay_chart(sheet, layout, other.light("white-led", "broad"), pose)
    elif kind == "order":
        charts.lay_chart(sheet, layout, light[rng.permutation(len(light))], pose)
    elif kind == "shape":
        side = layout.patches[0].width
        other_layout = charts.chart_layout(6, 8, patch=(side, side), gap=(0.5, 0.5))
        charts.lay_chart(sheet, other_layout, light, pose)
    elif kind == "chart":
        charts.lay_chart(sheet, layout, light, pose)
        if rng.random() < 0.3:
            place = rng.uniform(0, 1, 2) * (layout.width, layout.height)
            radius = rng.uniform(2, 9)
            scenes.cover(sheet, pose, (place[0], place[1]), radius)
            near = np.abs(charts.centres(layout) - place).max(axis=1)
            covered = np.asarray(near < radius * 0.7)
    return covered


def _stated(ppi: float, rng: np.random.Generator) -> tuple[float, float] | None:
    """Give the resolution as a file might state it."""
    chance = rng.random()
    if chance < 0.08:
        return None
    if chance < 0.16:
        return (72.0, 72.0) if ppi <= 300 else (300.0, 300.0)
    return (ppi, ppi)


def _step(scene: scenes.Scene, stated: tuple[float, float] | None) -> int:
    """Choose how far to reduce the picture, as the job does."""
    ppi = stated[0] if stated else max(scene.width, scene.height) / A4_LONG_INCH
    return max(1, round(ppi / OVERVIEW_PPI))


def report(results: list[Result]) -> list[str]:
    """Put the figures into lines."""
    with_chart = [r for r in results if r.kind == "chart"]
    right = [r for r in with_chart if r.found and not r.wrong]
    plain = [r for r in right if r.ppi == 300]
    px = np.concatenate([r.away for r in plain]) if plain else np.zeros(1)
    mm = np.concatenate([r.away / r.ppi * 25.4 for r in right]) if right else np.zeros(1)
    seconds = np.array([r.seconds for r in right] or [0.0])
    without = [r for r in results if r.kind != "chart"]
    false = sum(r.wrong for r in without)
    by_turn = ", ".join(
        f"{90 * t}°: {sum(r.turn == t for r in right)} of {sum(r.turn == t for r in with_chart)}"
        for t in range(4)
    )
    lines = [
        f"scenes with a chart    {len(with_chart)}; found {len(right)} ({by_turn})",
        f"scenes without         {len(without)}; taken for the chart {false}",
        f"patch centres, 300 ppi rms {np.sqrt(np.mean(px**2)):.3f}  P95 {np.quantile(px, 0.95):.3f}"
        f"  max {px.max():.3f} px ({len(plain)} charts; wanted at most {WANTED_PX})",
        f"patch centres, all     rms {1000 * np.sqrt(np.mean(mm**2)):.1f}  max "
        f"{1000 * mm.max():.1f} µm",
        f"patches used           {sum(r.patches_used for r in right)} of {48 * len(right)}; "
        f"covered and trusted {sum(r.trusted_scraps for r in right)}",
        f"CPU seconds, found     median {np.median(seconds):.2f}  P95 "
        f"{np.quantile(seconds, 0.95):.2f}  max {seconds.max():.2f}",
    ]
    return lines + [line for r in results if (line := trouble(r))]


def summary(result: Result) -> str:
    """Give the figures of one scene."""
    rms, worst = 0.0, 0.0
    if len(result.away):
        rms, worst = float(np.sqrt(np.mean(result.away**2))), float(result.away.max())
    return (
        f"{result.kind} {result.ppi:.0f} ppi, turn {90 * result.turn}, "
        f"{'found' if result.found else 'none'}, rms {rms:.3f} max {worst:.3f} px, "
        f"{result.seconds:.2f} s {trouble(result)}"
    )


def trouble(result: Result) -> str:
    """Say what went wrong in a scene; empty if nothing did."""
    missed = result.kind == "chart" and not result.found
    worst = float(result.away.max()) if len(result.away) else 0.0
    far = result.kind == "chart" and result.ppi == 300 and worst > WANTED_PX
    if not (missed or result.wrong or far):
        return ""
    what = "missed" if missed else "wrong" if result.wrong else "far"
    return (
        f"  seed {result.seed}: {result.kind}, {result.ppi:.0f} ppi, turn {90 * result.turn}: "
        f"{what}, worst {worst:.2f} px"
    )


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description="How surely and exactly charts are found.")
    parser.add_argument("--scenes", type=int, default=300)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--first", type=int, default=0)
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.scenes)
    results = []
    with ProcessPoolExecutor(options.jobs) as pool:
        for result in pool.map(run, seeds):
            results.append(result)
            sys.stderr.write(f"{len(results)} of {len(seeds)}: {summary(result)}\n")
    sys.stdout.write("\n".join(report(results)) + "\n")


if __name__ == "__main__":
    main()
