"""Damage reference files in many ways and see that each is read or refused in words.

``python -m tests.benchmarks.fuzz_references [COUNT]``; 100000 cases by default, about
four minutes. Ends with status 1 at the first case that raises anything but
`ReferenceFileError`, gives an unsound result, or takes longer than two seconds.
"""

from __future__ import annotations

import sys
import time
from collections import Counter

import numpy as np

from colormatch.errors import ReferenceFileError
from colormatch.files.references import parse_reference
from tests.files.test_references import PIECES, SEEDS

LIMIT = 2.0
"""Seconds; the seeds take about a millisecond."""

ENCODINGS = ("utf-8", "utf-8", "latin-1", "utf-16", "utf-16-be", "utf-32")


def damaged(rng: np.random.Generator) -> bytes:
    """Make one damaged file: cuts, pieces put in, lines moved, bytes changed."""
    if rng.random() < 0.05:
        return rng.bytes(int(rng.integers(0, 600)))
    text = SEEDS[rng.integers(len(SEEDS))]
    for _ in range(rng.integers(0, 4)):
        start, length = int(rng.integers(len(text) + 1)), int(rng.geometric(0.2)) - 1
        text = text[:start] + PIECES[rng.integers(len(PIECES))] + text[start + length :]
    if rng.random() < 0.3:
        lines = text.split("\n")
        i, j = rng.integers(len(lines), size=2)
        lines[i], lines[j] = lines[j], lines[i] * int(rng.integers(3))
        text = "\n".join(lines)
    if rng.random() < 0.1:
        text += SEEDS[rng.integers(len(SEEDS))]
    data = bytearray(text.encode(ENCODINGS[rng.integers(len(ENCODINGS))], "replace"))
    for _ in range(int(data and rng.random() < 0.3)):
        data[rng.integers(len(data))] = rng.integers(256)
    return bytes(data[: rng.integers(len(data) + 1)] if rng.random() < 0.1 else data)


def outcome(data: bytes) -> str:
    """Read a file: ``"read"``, ``"noted"`` or ``"refused"``; anything else raises."""
    try:
        reference = parse_reference(data, "file.txt")
    except ReferenceFileError as error:
        message = str(error)
        assert message.startswith("file.txt: ")
        assert "\n" not in message
        assert len(message) < 600
        return "refused"
    assert np.isfinite(reference.xyz).all()
    assert reference.xyz.min() >= 0
    assert reference.xyz.max() < 10
    assert len(set(reference.ids)) == len(reference.ids) == len(reference.xyz) > 0
    return "noted" if reference.notes else "read"


def main(count: int = 100_000) -> int:
    """Run ``count`` cases and report how they ended."""
    rng = np.random.default_rng(20240506)
    ends: Counter[str] = Counter()
    slowest = 0.0
    for case in range(count):
        data = damaged(rng)
        start = time.perf_counter()
        try:
            ends[outcome(data)] += 1
        except Exception as error:  # noqa: BLE001 - whatever it is, it is what is looked for
            sys.stdout.write(f"case {case}: {error!r}\n{data!r}\n")
            return 1
        slowest = max(slowest, time.perf_counter() - start) if case else 0.0
        if slowest > LIMIT:
            sys.stdout.write(f"case {case} took {slowest:.1f} s\n{data!r}\n")
            return 1
    sys.stdout.write(f"{count} cases: {dict(ends)}, slowest {slowest * 1000:.0f} ms\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:2])))
