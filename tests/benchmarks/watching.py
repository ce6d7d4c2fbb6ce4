"""A task in a process of its own, its memory and seconds taken from outside."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass

SAMPLED = 0.01
"""Seconds between two looks at a process."""


@dataclass(frozen=True, kw_only=True)
class Watched:
    """What a process took.

    Attributes
    ----------
    told : str
        What it printed.
    wall, work : float
        Seconds, start-up included: on the clock, and of all its threads together.
    peak : float
        Largest resident memory seen, MB.
    """

    told: str
    wall: float
    work: float
    peak: float


def watched(module: str, words: Sequence[str]) -> Watched:
    """Run ``python -m module words`` and watch it; ends the program if it fails."""
    import psutil

    peak, work, start = 0, 0.0, time.perf_counter()
    command = [sys.executable, "-m", module, *words]
    # A file and not a pipe: a pipe that nobody reads meanwhile would stop a long report.
    with (
        tempfile.TemporaryFile("w+", encoding="utf-8") as out,
        subprocess.Popen(command, stdout=out, text=True) as process,
    ):
        seen = psutil.Process(process.pid)
        while process.poll() is None:
            try:
                peak = max(peak, seen.memory_info().rss)
                work = sum(seen.cpu_times()[:2])
            except psutil.NoSuchProcess:
                break
            time.sleep(SAMPLED)
        process.wait()
        out.seek(0)
        told = out.read()
    if process.returncode:
        raise SystemExit(f"{module} {' '.join(words)} failed")
    return Watched(told=told, wall=time.perf_counter() - start, work=work, peak=peak / 1e6)
