"""Known faults of how the painting lies, two tiles showing it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .fault_records import CARE, RESCAN, USE, Fault, with_scanner, with_tile
from .jobs import SHEET, Job, placed
from .presets import GLASS
from .settings import Crease, Lifted

BLUR_MM, DARKER = (0.06, 0.17, 0.35), (0.04, 0.10, 0.20)
"""Blur (standard deviation) and darkening at the rim. Prints are made at 300 ppi: 0.085 mm
is a pixel there, so that strong leaves nothing finer than eight pixels; 1 % of light is
0.2 ΔE2000, and strong differs by four."""

LIFTED_MM = 26.0
"""Width of the zone off the glass."""

SHADOW, REACH_MM = (0.07, 0.16, 0.31), (1.5, 2.0, 3.0)
"""Depth of a fold's shadow and its reach: 16 to 31 % were measured beside raised edges on
real scans, gone in about 2 mm; folds of canvas reach farther."""

RELIEF = (0.05, 0.15, 0.35)
"""Change of light per unit slope: smooth paper, brushed paint, impasto on canvas."""

OVERLAP_MM = (22.0, 15.0, 8.0)
"""Of the 30 mm that the trade asks for: three quarters, half, a quarter."""


def off_glass(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Let the sheet lie over the rim of the glass, so that it stands off beside it."""
    index = int(rng.integers(2))
    lifted = Lifted(
        side="right" if index == 0 else "left",
        width=LIFTED_MM,
        blur=BLUR_MM[strength],
        dark=DARKER[strength],
        start=rim(job, index),
    )
    return with_tile(job, index, lifted=lifted)


def rim(job: Job, index: int) -> float:
    """Distance from the painting's side beyond the glass to the glass's rim, mm."""
    placing = job.scans[index].tile.placing
    if index == 0:
        return SHEET[0] - (placing.centre[0] + GLASS[0] - placing.at[0])
    return placing.centre[0] - placing.at[0]


def folded(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Press a fold into one tile only."""
    crease = Crease(
        side=str(rng.choice(["top", "bottom"])),
        distance=float(rng.uniform(18, 40)),
        depth=SHADOW[strength],
        bright=SHADOW[strength] / 3,
        reach=REACH_MM[strength],
    )
    return with_tile(job, int(rng.integers(2)), crease=crease)


def turned(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Lay the second tile sideways or upside down."""
    placing = job.scans[1].tile.placing
    top = placing.at[1] - SHEET[1] / 2
    other = placed(placing.centre[0], slant=placing.slant, top=top, turns=int(rng.integers(1, 4)))
    return with_scanner(with_tile(job, 1, placing=other), None, relief=RELIEF[strength])


def little_overlap(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Slide the second tile too far."""
    first, second = (one.tile.placing for one in job.scans)
    end = first.centre[0] + GLASS[0] - first.at[0]
    start = end - OVERLAP_MM[strength] + float(rng.uniform(-0.5, 0.5))
    moved = replace(second, centre=(start, second.centre[1]))
    return with_tile(job, 1, placing=moved)


PAINTING_FAULTS = (
    Fault(
        name="off the glass",
        kinds=("off-glass",),
        advice=(USE, CARE, CARE),
        change=off_glass,
        also=("edge-shadow",),
        tiles=2,
        faulty=(0, 1),
    ),
    Fault(
        name="fold's shadow",
        kinds=("edge-shadow",),
        advice=(USE, CARE, CARE),
        change=folded,
        also=("off-glass",),
        tiles=2,
        faulty=(0, 1),
    ),
    Fault(
        name="turned tile",
        kinds=("turned",),
        advice=(USE, CARE, CARE),
        change=turned,
        tiles=2,
        faulty=(0, 1),
    ),
    Fault(
        name="little overlap",
        kinds=("little-overlap",),
        advice=(USE, CARE, RESCAN),
        change=little_overlap,
        tiles=2,
        faulty=(0, 1),
    ),
)
