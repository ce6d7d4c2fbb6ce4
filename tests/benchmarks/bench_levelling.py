"""Levelled light against the truth: ``python -m tests.benchmarks.bench_levelling [SEEDS]``.

Invented paintings are scanned in small under light that is known exactly.
Per scene, over all seeds: P95 of CIEDE2000 to the truth over the joined
picture before and after (its mean error taken out), mean and largest error of
the tiles' mean light, largest step between neighbours, error over the
uncertainty told, share of the overlaps left out, seconds. Aims stand behind.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from colormatch.levelling.blank import BlankMap
from tests.levelling.cases import (
    FROM,
    chain,
    edge_shadow,
    even_pair,
    grid,
    level,
    mean_de,
    mean_errors,
    normalised,
    p95,
    pair_without_strip,
    seam_keep,
    sheet,
    steps,
    uneven_pair,
    unshaded,
)
from tests.levelling.scenes import Array, Scene, unevenness

SHADOW = edge_shadow(0.22, 10.0)
BLANK_AIM, PLAIN_AIM = 0.7, 1.2
CPU = time.process_time


def band(depth: float) -> Callable[[Array, Array], Array]:
    """Give a band of 34 mm off the glass, darkest at its edge."""

    def shadow(x: Array, y: Array) -> Array:
        return np.asarray(depth * np.clip(1 - (x - FROM) / 34.0, 0, 1) * (x >= FROM) + 0.0 * y)

    return shadow


@dataclass(frozen=True, kw_only=True)
class Case:
    """A row of the table."""

    name: str
    make: Callable[[int], Scene]
    blank: bool = False
    joined: bool = True
    aim: str = ""


CASES = (
    Case(
        name="5 % vignetting, 2 % tilt, shadow 22 %",
        make=lambda s: uneven_pair(s, shadow=SHADOW),
        aim=f"P95 <= {PLAIN_AIM}",
    ),
    Case(
        name="  strip along the carriage's way",
        make=lambda s: uneven_pair(s, strip="way", shadow=SHADOW),
        aim=f"P95 <= {PLAIN_AIM}",
    ),
    Case(
        name="  evened along the strip before",
        make=lambda s: uneven_pair(s, evened=True, shadow=SHADOW),
        aim=f"P95 <= {PLAIN_AIM}",
    ),
    Case(
        name="  with a blank sheet",
        make=lambda s: uneven_pair(s, shadow=SHADOW),
        blank=True,
        aim=f"P95 <= {BLANK_AIM}",
    ),
    Case(
        name="  blank sheet, strip along the way",
        make=lambda s: uneven_pair(s, strip="way", shadow=SHADOW),
        blank=True,
        aim=f"P95 <= {BLANK_AIM}",
    ),
    Case(
        name="  shadow 31 %, 20 mm wide",
        make=lambda s: uneven_pair(s, shadow=edge_shadow(0.31, 20.0)),
    ),
    Case(
        name="  and own fields of 1 %",
        make=lambda s: uneven_pair(s, shadow=SHADOW, fields=0.01),
    ),
    Case(name="  band of 34 mm, 20 % dark", make=lambda s: uneven_pair(s, shadow=band(0.2))),
    Case(name="  band of 34 mm, 7 % dark", make=lambda s: uneven_pair(s, shadow=band(0.07))),
    Case(
        name="  the same, strip along the way",
        make=lambda s: uneven_pair(s, strip="way", shadow=band(0.07)),
    ),
    Case(name="even light", make=even_pair, aim="adds <= 0.05 dE"),
    Case(
        name="second tile without a strip",
        make=lambda s: pair_without_strip(s, depth=0.0, rise=0.0),
        aim="mean <= 0.5 %",
    ),
    Case(name="  in uneven light", make=pair_without_strip, aim="mean <= 0.5 %"),
    Case(name="chain of six", make=chain, joined=False, aim="step 0.2 %, mean 0.3 %"),
    Case(name="3 x 2 turned tiles", make=grid, joined=False),
    Case(
        name="  one strip for all six",
        make=lambda s: grid(s, strips=(True,) + (False,) * 5),
        joined=False,
    ),
)


def figures(case: Case, seed: int, blank: BlankMap) -> tuple[list[float], Array, Array]:
    """Give a scene's figures, its tiles' mean errors and its steps."""
    scene = case.make(seed)
    start, cpu = time.perf_counter(), CPU()
    result = level(scene, blank if case.blank else None)
    seconds, cpu = time.perf_counter() - start, CPU() - cpu
    keep = seam_keep(scene) if case.joined else unshaded(scene)
    none = [None] * len(scene.tiles)
    row = [
        float(np.percentile(unevenness(scene, none, keep=keep), 95)),
        p95(result, keep),
        mean_de(scene, result.gains) - mean_de(scene, none),
        float(np.sqrt(np.mean(normalised(result) ** 2))),
        float(np.mean([np.mean(~b.trusted) for b in result.levels.blocks[: len(result.pairs)]])),
        seconds,
        cpu,
    ]
    return row, mean_errors(result).mean(axis=1), steps(result)


def show(case: Case, seeds: int, blank: BlankMap) -> None:
    """Print one row: means over the seeds, errors and steps as RMS and largest."""
    found = [figures(case, seed, blank) for seed in range(1, seeds + 1)]
    before, after, adds, told, left_out, seconds, cpu = np.mean([f[0] for f in found], axis=0)
    error, step = (np.abs(np.concatenate([f[k] for f in found])) for k in (1, 2))
    sys.stdout.write(
        f"{case.name:38s} {before:6.2f} {after:6.3f} {adds:7.3f}"
        f" {np.sqrt(np.mean(error**2)):6.2f} {error.max():5.2f}"
        f" {np.sqrt(np.mean(step**2)):6.2f} {step.max():5.2f}"
        f" {told:5.2f} {100 * left_out:4.0f} {seconds:6.2f} {cpu:5.2f}  {case.aim}\n"
    )


def main() -> None:
    """Print the table."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    sys.stdout.write(
        f"{'':38s}  P95 CIEDE2000   mean  mean error %   step %     error  out\n"
        f"{'scene':38s} before  after dE adds    rms   max    rms   max  /told    %"
        "      s   cpu  aim\n"
    )
    blank = sheet(5)
    level(even_pair(1))
    for case in CASES:
        show(case, seeds, blank)


if __name__ == "__main__":
    main()
