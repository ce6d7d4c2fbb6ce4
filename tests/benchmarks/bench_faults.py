"""Known faults found, missed and falsely found: ``python -m tests.benchmarks.bench_faults``.

Renders scans with one known fault each (`demo.known_faults`: every fault in three
strengths, several seeds, bright and dark paintings) and sound ones, runs the real
``check`` on them and prints a table:

- found: the right kind is named in a scan that has the fault, with at least the advice
  that is right for that strength;
- milder: the right kind is named, with milder advice;
- missed: it is not named;
- falsely found: other kinds that advise against using a scan, and how many scans they
  hit; kinds that follow from the fault do not count, nor does ``tolerance``, which any
  fault may bring about.

``--only NAME`` and ``--strength`` run a part, ``--list`` prints every miss, ``--ppi``,
``--seeds``, ``--sound`` and ``--jobs`` set the size. Limits were chosen while looking at
``--first 0``; ``--first 10000`` makes other scans of other paintings. Scans live in a
temporary folder while they are checked. Aims: strong faults found 95 %, sound scans called
"use it" 98 %.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from colormatch.job.checking import check
from colormatch.job.options import CheckOptions
from colormatch.verdict import Advice, Finding, Kind, TileReport
from demo.fault_records import STRENGTHS
from demo.jobs import PAINTINGS, Job, render, sound_job
from demo.known_faults import FAULTS, faulty_job

ORDER = list(Advice)
PPI = 150.0
STEEP = "steep filters"
"""Sound scans of a sensor that tells colours apart badly: shown, not in the aim."""


@dataclass(frozen=True, kw_only=True)
class Item:
    """One job to render: a fault by its place in the table, or a sound one (None)."""

    fault: int | None
    strength: str
    seed: int
    ppi: float
    painting: str = ""
    tiles: int = 1

    @property
    def drawn(self) -> Job:
        """The job."""
        if self.fault is not None:
            return faulty_job(FAULTS[self.fault], self.strength, seed=self.seed, ppi=self.ppi)
        return sound_job(
            self.painting,
            seed=self.seed,
            tiles=self.tiles,
            ppi=self.ppi,
            sensor="steep" if self.strength == STEEP else None,
        )


@dataclass(kw_only=True)
class Result:
    """What check said: ``found``, ``milder``, ``missed`` or ``sound``."""

    item: Item
    outcome: str
    false: list[str] = field(default_factory=list)
    advice: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)


def run(item: Item) -> Result:
    """Render one job, check it, compare."""
    job = item.drawn
    with tempfile.TemporaryDirectory() as folder:
        files = render(job, Path(folder))
        report = check(files.scans, CheckOptions(reference=files.reference))
    result = judged_sound(item, report.tiles) if item.fault is None else judged(item, report.tiles)
    result.words = [
        f"{Path(tile.scan).stem}: {tile.advice}; "
        + (tile.error.split(": ", 1)[-1] if tile.error else "")
        + "; ".join(f"{f.kind} [{f.advice}] {f.text}" for f in tile.findings)
        for tile in report.tiles
    ]
    return result


def judged(item: Item, tiles: Sequence[TileReport]) -> Result:
    """Compare findings with the fault that is there."""
    assert item.fault is not None
    fault = FAULTS[item.fault]
    wanted = ORDER.index(Advice(fault.advice[STRENGTHS.index(item.strength)]))
    right = [f for k in fault.faulty for f in tiles[k].findings if f.kind in fault.kinds]
    grave = max((ORDER.index(f.advice) for f in right), default=-1)
    outcome = "found" if grave >= wanted else "milder" if right else "missed"
    known = {*fault.kinds, *fault.also, Kind.TOLERANCE}
    false = {f.kind for tile in tiles for f in grave_findings(tile) if f.kind not in known}
    return Result(item=item, outcome=outcome, false=sorted(false))


def judged_sound(item: Item, tiles: Sequence[TileReport]) -> Result:
    """List what a sound job's scans were called."""
    false = [str(f.kind) for tile in tiles for f in grave_findings(tile)]
    return Result(
        item=item, outcome="sound", false=false, advice=[str(tile.advice) for tile in tiles]
    )


def grave_findings(tile: TileReport) -> list[Finding]:
    """List findings that advise against using a scan as it is."""
    return [f for f in tile.findings if f.advice is not Advice.USE]


def items(
    ppi: float,
    seeds: int,
    sound: int,
    only: str | None,
    strengths: Sequence[str] = STRENGTHS,
    first: int = 0,
) -> list[Item]:
    """All jobs, those of one painting together, because it is drawn once."""
    chosen = [
        Item(fault=k, strength=strength, seed=seed, ppi=ppi)
        for k, fault in enumerate(FAULTS)
        if only in (None, fault.name)
        for strength in strengths
        for seed in range(first, first + seeds)
    ]
    if only in (None, "sound"):
        chosen += sound_items(ppi, sound, first)
    return sorted(chosen, key=lambda i: (painting_of(i), i.seed % 4))


def sound_items(ppi: float, scans: int, first: int = 0) -> list[Item]:
    """Jobs of one, two and three tiles until there are enough scans; some with steep filters."""
    found: list[Item] = []
    while sum(i.tiles for i in found if i.strength != STEEP) < scans:
        number = len(found)
        found.append(
            Item(
                fault=None,
                strength=STEEP if number % 9 == 8 else "none",
                seed=first + 1000 + number,
                ppi=ppi,
                painting=PAINTINGS[number // 3 % 3],
                tiles=1 + number % 3,
            )
        )
    return found


def painting_of(item: Item) -> str:
    if item.fault is None:
        return item.painting
    paintings = FAULTS[item.fault].paintings
    return paintings[item.seed % len(paintings)]


def table(results: Sequence[Result]) -> list[str]:
    """One line per fault and strength."""
    head = f"{'fault':23s} {'strength':9s} {'jobs':>4s} {'found':>6s} {'milder':>6s} {'missed':>6s}"
    lines = [f"{head}  falsely found", "-" * 78]
    for k, fault in enumerate(FAULTS):
        name = fault.name
        for strength in STRENGTHS:
            mine = [r for r in results if r.item.fault == k and r.item.strength == strength]
            if mine:
                lines.append(row(name, strength, mine))
                name = ""
    return lines


def row(name: str, strength: str, mine: Sequence[Result]) -> str:
    count = Counter(r.outcome for r in mine)
    false = Counter(kind for r in mine for kind in r.false)
    named = ", ".join(f"{kind} {times}" for kind, times in false.most_common())
    figures = " ".join(f"{count[key]:6d}" for key in ("found", "milder", "missed"))
    return f"{name:23s} {strength:9s} {len(mine):4d} {figures}  {named}".rstrip()


def summary(results: Sequence[Result]) -> list[str]:
    """Shares found by strength, and what sound scans were called."""
    lines = [""]
    for strength in STRENGTHS:
        mine = [r for r in results if r.item.strength == strength]
        if mine:
            found = sum(r.outcome == "found" for r in mine)
            named = sum(r.outcome in ("found", "milder") for r in mine)
            clear = sum(not r.false for r in mine)
            lines.append(
                f"{strength:7s} faults: {found} of {len(mine)} found "
                f"({100 * found / len(mine):.1f} %), {named} named, {clear} without a false kind"
            )
    for strength, title in (("none", "sound scans"), (STEEP, f"sound, {STEEP}")):
        mine = [r for r in results if r.item.fault is None and r.item.strength == strength]
        advice = [a for r in mine for a in r.advice]
        if advice:
            use = advice.count(str(Advice.USE))
            false = Counter(kind for r in mine for kind in r.false)
            kinds = ", ".join(f"{kind} {times}" for kind, times in false.most_common())
            lines.append(
                f'{title}: {use} of {len(advice)} called "use it" ({100 * use / len(advice):.1f} %)'
                f"  {kinds}".rstrip()
            )
    return lines


def misses(results: Sequence[Result]) -> list[str]:
    """List what check said where it was not right."""
    lines = []
    for r in results:
        if r.outcome in ("milder", "missed") or r.false:
            name = FAULTS[r.item.fault].name if r.item.fault is not None else "sound"
            where = f"{painting_of(r.item)}, seed {r.item.seed}"
            lines.append(f"{name}, {r.item.strength}, {where}: {r.outcome}; {', '.join(r.false)}")
            lines += [f"    {words}" for words in r.words]
    return lines


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description="Known faults found, missed and falsely found.")
    parser.add_argument("--ppi", type=float, default=PPI)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--sound", type=int, default=100)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--only", help="name of one fault, or 'sound'")
    parser.add_argument("--strength", choices=STRENGTHS, help="faults of this strength alone")
    parser.add_argument("--list", action="store_true", help="print every miss")
    options = parser.parse_args()
    strengths = (options.strength,) if options.strength else STRENGTHS
    chosen = items(
        options.ppi, options.seeds, options.sound, options.only, strengths, options.first
    )
    with ProcessPoolExecutor(options.jobs) as pool:
        results = []
        for result in pool.map(run, chosen, chunksize=4):
            results.append(result)
            sys.stderr.write(f"\r{len(results)} of {len(chosen)} jobs")
    sys.stderr.write("\n")
    lines = [*table(results), *summary(results)]
    if options.list:
        lines += ["", *misses(results)]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
