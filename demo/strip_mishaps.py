"""Known faults of the strip and of what is known about it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from .fault_records import CARE, RESCAN, USE, Fault, with_strip, with_tile
from .jobs import SHEET, Job
from .presets import GLASS

COVERED = (0.08, 0.25, 0.50)
"""Share of the strip's length under paper. 24 well-spread patches determine a fit: a
twelfth lost costs nothing, a quarter is seen at once, half leaves no spare patches."""

UNDER_MM = (4.0, 8.0, 13.0)
"""Depth to which the strip, 22 mm wide, lies under the painting: its first row of
patches touched, one row gone, more than half gone."""

STAINS = (2, 8, 25)
"""Spots 2 to 5 mm wide on 65 patches: a few touched, an eighth, a third or more."""

CURL_MM = (0.5, 1.5, 3.0)
"""Height of the strip's curled end. 4 % less light for each mm, and 1 % of light is
0.19 to 0.22 ΔE2000: 0.4, 1.2 and 2.4 ΔE at the end, the last beyond the mean of 2 that
FADGI 2016 wants for four stars."""

DRIFTS = (2.0, 4.0, 4.0)
"""How far the printer of the reference's strip was from this one's, 1 is equal: about
2 and 5 ΔE2000 on average. The strong case is a sheet of another design."""

AGES = (400, 800, 1900)
"""Days. Printed targets fade: re-measure after a year or two (common practice)."""


def missing(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Slide the strip mostly off the glass, lay it face up, or forget it."""
    if strength == 2:
        return with_tile(job, 0, strips=())
    if strength == 1:
        return with_strip(job, 0, covered=1.0)
    (place,) = job.scans[0].tile.strips
    placing = place.placing
    out = 120.0 if rng.random() < 0.5 else -120.0
    moved = replace(placing, at=(placing.at[0] + out, placing.at[1]))
    return with_strip(job, 0, placing=moved)


def half_covered(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Lay paper over one end of the strip."""
    share = COVERED[strength] * rng.uniform(0.95, 1.1)
    return with_strip(job, 0, covered=float(share))


def under_the_painting(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Leave the painting's lower edge over the strip."""
    (place,) = job.scans[0].tile.strips
    lower = place.placing.at[1] > GLASS[1] / 2
    depth = UNDER_MM[strength] + rng.uniform(-0.5, 0.5)
    edge = place.placing.at[1] + (-11 + depth if lower else 11 - depth)
    placing = job.scans[0].tile.placing
    middle = edge - SHEET[1] / 2 if lower else edge + SHEET[1] / 2
    straight = replace(placing, at=(placing.at[0], middle), slant=0.0)
    level = replace(place.placing, slant=0.0)
    return with_tile(
        job, 0, placing=straight, strips=(replace(place, placing=level),), strips_under=True
    )


def stained(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Soil the strip."""
    return with_strip(job, 0, stains=int(STAINS[strength] + rng.integers(0, 2)))


def curled(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Let one end of the strip stand off the glass."""
    return with_strip(job, 0, curl=float(CURL_MM[strength] * rng.uniform(0.95, 1.1)))


def other_sheet(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Give the values of another sheet."""
    drift = DRIFTS[strength] * (1 if rng.random() < 0.5 else -0.5)
    return replace(job, sheet=replace(job.sheet, drift=drift, shuffled=strength == 2))


def old_reference(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Let the reference be measured long ago."""
    age = timedelta(days=int(AGES[strength] + rng.integers(0, 60)))
    return replace(job, sheet=replace(job.sheet, measured=date.today() - age))


def no_reference(job: Job, _strength: int, _rng: np.random.Generator) -> Job:
    """Leave the strip unmeasured: there are no strengths of this."""
    return replace(job, sheet=replace(job.sheet, given=False))


STRIP_FAULTS = (
    Fault(
        name="strip missing",
        # Two thirds out of the picture may be called either.
        kinds=("strip-missing", "strip-covered"),
        advice=(RESCAN, RESCAN, RESCAN),
        change=missing,
    ),
    Fault(
        name="strip half covered",
        kinds=("strip-covered",),
        advice=(USE, CARE, RESCAN),
        change=half_covered,
        also=("strip-missing",),
    ),
    Fault(
        name="strip under painting",
        kinds=("strip-covered",),
        advice=(USE, CARE, RESCAN),
        change=under_the_painting,
        also=("strip-missing",),
    ),
    Fault(name="strip dirty", kinds=("strip-covered",), advice=(USE, CARE, RESCAN), change=stained),
    Fault(
        name="strip bent",
        kinds=("strip-bent",),
        advice=(USE, CARE, CARE),
        change=curled,
        also=("fall-off",),
    ),
    Fault(
        name="strip of another sheet",
        kinds=("strip-other-sheet",),
        advice=(USE, CARE, RESCAN),
        change=other_sheet,
    ),
    Fault(
        name="old reference",
        kinds=("old-reference",),
        advice=(USE, USE, CARE),
        change=old_reference,
    ),
    Fault(
        name="nominal reference",
        kinds=("nominal-reference",),
        # Tiles can be made to agree, true colour cannot be promised.
        advice=(USE, USE, USE),
        change=no_reference,
        # The print misses its nominal colours by several ΔE.
        also=("strip-other-sheet", "narrow-lamp"),
    ),
)
