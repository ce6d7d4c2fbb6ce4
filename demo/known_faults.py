"""All known faults, each a job with one of them and nothing else wrong."""

from __future__ import annotations

import numpy as np

from .driver_mishaps import DRIVER_FAULTS
from .fault_records import STRENGTHS, Fault
from .jobs import Job, sound_job
from .light_mishaps import LIGHT_FAULTS
from .painting_mishaps import PAINTING_FAULTS
from .strip_mishaps import STRIP_FAULTS

FAULTS: tuple[Fault, ...] = (*STRIP_FAULTS, *DRIVER_FAULTS, *LIGHT_FAULTS, *PAINTING_FAULTS)
"""Every known fault."""


def faulty_job(fault: Fault, strength: str, *, seed: int, ppi: float) -> Job:
    """Draw up a job with one fault.

    Parameters
    ----------
    fault : Fault
        Of `FAULTS`.
    strength : str
        Of `STRENGTHS`.
    seed : int
        Of chance, and which painting it happens to.
    ppi : float
        Of the scans.
    """
    painting = fault.paintings[seed % len(fault.paintings)]
    job = sound_job(painting, seed=seed, tiles=fault.tiles, ppi=ppi)
    rng = np.random.default_rng([seed, *fault.name.encode()])
    return fault.change(job, STRENGTHS.index(strength), rng)
