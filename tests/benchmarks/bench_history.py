"""What ``history`` says of simulated logs, many times over: told, left open, wrong.

``python -m tests.benchmarks.bench_history [TIMES]``: about half a minute per time.
"""

from __future__ import annotations

import sys
import time

from colormatch.drifts import Cause
from colormatch.tracking.causes import statements_of
from colormatch.tracking.readings import series_of
from tests.tracking.histories import Plan, State, history

SECOND = {"strip": "second", "print_drift": 0.6}
CASES: dict[str, tuple[tuple[Plan, ...], set[Cause], set[Cause]]] = {
    "steady": ((Plan(),), {Cause.STEADY}, set()),
    "cyan 5 %": ((Plan(last=State(keep=(0.95, 1, 1, 1))),), {Cause.INK}, {Cause.STEADY}),
    "magenta 5 %": ((Plan(last=State(keep=(1, 0.95, 1, 1))),), {Cause.INK}, {Cause.STEADY}),
    "magenta 12 %": ((Plan(last=State(keep=(1, 0.88, 1, 1))),), {Cause.INK}, set()),
    "yellow 5 %": ((Plan(last=State(keep=(1, 1, 0.95, 1))),), {Cause.INK}, {Cause.STEADY}),
    "all inks 12 %, alone": (
        (Plan(last=State(keep=(0.88,) * 4)),), {Cause.TONE}, {Cause.INK},
    ),
    "lamp dimmer by 8 %": ((Plan(last=State(exposure=0.92)),), {Cause.LAMP}, set()),
    "phosphor 12 %": ((Plan(last=State(phosphor=0.88)),), {Cause.LAMP}, set()),
    "blue emitter 12 %, alone": (
        (Plan(last=State(blue_emitter=0.88)),), {Cause.LAMP_OR_PAPER}, set(),
    ),
    "blue emitter 12 %, two strips": (
        (Plan(last=State(blue_emitter=0.88)),
         Plan(last=State(blue_emitter=0.88), **SECOND)),  # type: ignore[arg-type]
        {Cause.LAMP}, {Cause.LAMP_OR_PAPER},
    ),
    "yellow paper, alone": (
        (Plan(last=State(yellow_paper=0.04)),), {Cause.LAMP_OR_PAPER}, {Cause.STEADY},
    ),
    "yellow paper, two strips": (
        (Plan(last=State(yellow_paper=0.04)), Plan(**SECOND)),  # type: ignore[arg-type]
        {Cause.PAPER}, {Cause.LAMP_OR_PAPER, Cause.STEADY},
    ),
    "exposure set otherwise": (
        (Plan(last=State(exposure=0.93), step_at=0.5),), {Cause.SETTINGS}, {Cause.LAMP},
    ),
    "another print": (
        (Plan(last=State(reprint=-1.0), step_at=0.5),), {Cause.OTHER_PRINT},
        {Cause.INK_OR_COLOURS},
    ),
}  # fmt: skip
"""Plans, what is right, and what is no error but says less, of the first strip."""


def say(line: str) -> None:
    """Print at once: it takes minutes."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> None:
    """Print how often each case was told, left open and got wrong."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    say(f"{'simulated':<32}{'told':>6}{'open':>6}{'wrong':>7}   what was wrong")
    start, sums = time.process_time(), [0, 0, 0]
    for name, (plans, right, less) in CASES.items():
        counts, wrong = [0, 0, 0], []
        for seed in range(times):
            said = statements_of(series_of(history(*plans, seed=seed)))
            causes = {one.cause for one in said if one.strip == "first"}
            kind = 0 if causes == right else 1 if causes <= right | less else 2
            counts[kind] += 1
            if kind == 2:
                wrong.append("+".join(sorted(cause.value for cause in causes)))
        sums = [a + b for a, b in zip(sums, counts, strict=True)]
        say(f"{name:<32}{counts[0]:>6}{counts[1]:>6}{counts[2]:>7}   {', '.join(wrong)}")
    say(f"{'all':<32}{sums[0]:>6}{sums[1]:>6}{sums[2]:>7}")
    say(f"{time.process_time() - start:.0f} s of processor time")


if __name__ == "__main__":
    main()
