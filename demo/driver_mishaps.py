"""Known faults of the driver's settings and of the files it writes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .fault_records import CARE, RESCAN, USE, Fault, with_file, with_scanner, with_tile
from .jobs import Job

PAPER = 0.91
"""Linear light of the strip's bare paper at exposure 1 and no scattered light."""

OVER = (1.02, 1.2, 1.45)
"""Light of the paper over the scanner's top: the paper alone just gone; a quarter of a
stop; half a stop, all above L* 85 lost, highlights that cannot be repaired."""

BLOCKED_L = (5.0, 12.0, 20.0)
"""L* written as black: Metamorfoze assesses level Full down to L* 5 and the lighter
levels down to L* 20, so that whoever loses all below 20 fails every level."""

SCATTER = {"coast": 0.010, "dark-oil": 0.004, "abstract": 0.008}
"""Light scattered onto a painting's darks, on which its black sits: 2 % of what surrounds them."""

EXPOSURES = (1.05, 1.15, 1.41)
"""Step between tiles: a fourteenth, a fifth and half a stop. A lamp repeats to 0.3 %
and starts about 1 % low; half a stop is the usual coarse step of a driver's slider."""

GAMMAS = (1.038, 1.10, 1.25)
"""Ratio of the odd tile's exponent: 1.4, 3.7 and 9 L* at mid grey; FADGI 2023 grades the
tone response at 1.5, 3, 4.5 and 6."""

SHARPEN = (0.45, 0.95, 1.7)
"""Amount of unsharp masking with a blur of 1 px. With a scanner's optics the largest
modulation becomes about 1.02, 1.15 and 1.4; FADGI 2016 ends at 1.3."""

QUALITIES = (95, 85, 40)
"""JPEG: best quality, usual quality, small files for the web."""

STATED = (1.02, 1.04, 1.15)
"""Stated over true resolution: FADGI 2016 allows 1, 2 and 3 %."""

BIT_TONES = ("srgb", "srgb", "linear")
"""8 bits with the usual curve leave steps below 0.4 L*; linear ones are 3 L* apart at
L* 10, which shows in every dark passage."""


def clipped(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Expose so that paper goes over the top."""
    exposure = OVER[strength] / PAPER * rng.uniform(1.0, 1.03)
    return with_tile(job, 0, exposure=float(exposure))


def blocked(job: Job, strength: int, _rng: np.random.Generator) -> Job:
    """Set the black point too high."""
    lightness = BLOCKED_L[strength]
    # CIE 15: Y from L*, above and below the linear part.
    y = ((lightness + 16) / 116) ** 3 if lightness > 8 else lightness / 903.3
    exposure = job.scans[0].tile.exposure
    return with_scanner(job, 0, black=float((y + SCATTER[job.painting]) * exposure))


def other_exposure(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Let the driver expose the second tile on its own."""
    step = EXPOSURES[strength] * rng.uniform(1.0, 1.03)
    tint = 1 + rng.uniform(-0.01, 0.01, 3)
    tile = job.scans[1].tile
    gains = tuple(float(v) for v in tint)
    return with_tile(job, 1, exposure=float(tile.exposure / step), gains=gains)


def other_curve(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Give the second tile another tone curve; half of the strong ones an S-curve."""
    scanner = job.scans[0].scanner
    if strength == 2 and rng.random() < 0.5:
        return with_scanner(job, 1, tone="s-curve", gamma=2.2)
    power = with_scanner(job, None, tone="power", gamma=max(scanner.gamma, 2.0))
    return with_scanner(power, 1, gamma=max(scanner.gamma, 2.0) / GAMMAS[strength])


def mixed_files(job: Job, strength: int, _rng: np.random.Generator) -> Job:
    """Save the second tile in another form: as PNG, with 8 bits, at two thirds the ppi."""
    if strength == 0:
        return with_file(job, 1, format="png")
    if strength == 1:
        return with_scanner(job, 1, bits=8)
    return with_scanner(job, 1, ppi=round(job.scans[1].scanner.ppi * 2 / 3))


def eight_bits(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Save with 8 bits per channel."""
    tone = "power" if strength == 1 and rng.random() < 0.5 else BIT_TONES[strength]
    return with_scanner(job, 0, bits=8, tone=tone)


def lossy(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Save as JPEG."""
    quality = int(QUALITIES[strength] + rng.integers(-3, 4))
    return with_file(with_scanner(job, 0, bits=8), 0, format="jpeg", quality=quality)


def sharpened(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Sharpen after the tone curve, as drivers do."""
    return with_scanner(job, 0, sharpen=float(SHARPEN[strength] * rng.uniform(0.97, 1.1)))


def wrong_ppi(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """State a wrong resolution, or one that is quite another."""
    off = STATED[strength] if rng.random() < 0.5 else 1 / STATED[strength]
    if strength == 2 and rng.random() < 0.4:
        off = 72 / job.scans[0].scanner.ppi
    return with_file(job, 0, stated=(float(off), float(off)))


def wrong_ppi_one_way(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Run the carriage at another speed than the file says."""
    off = STATED[strength] if rng.random() < 0.5 else 1 / STATED[strength]
    scans = job.scans[0]
    scanner = replace(scans.scanner, stretch=float(off))
    placing = scans.tile.placing
    # Both still lie where the scan shows them.
    moved = replace(placing, at=(placing.at[0], placing.at[1] * off))
    (strip,) = scans.tile.strips
    lower = replace(strip.placing, at=(strip.placing.at[0], strip.placing.at[1] * off))
    job = with_tile(job, 0, placing=moved, strips=(replace(strip, placing=lower),))
    return job.changed(0, replace(job.scans[0], scanner=scanner))


DRIVER_FAULTS = (
    # Lights that only the paper has do no harm to the painting.
    Fault(name="highlights clipped", kinds=("clipped",), advice=(CARE, RESCAN, RESCAN),
          change=clipped),
    Fault(name="shadows blocked", kinds=("blocked", "clipped"), advice=(USE, CARE, RESCAN),
          change=blocked, paintings=("dark-oil", "dark-oil", "abstract")),
    Fault(name="exposure of one tile", kinds=("other-exposure",), advice=(USE, CARE, CARE),
          change=other_exposure, tiles=2, faulty=(0, 1), also=("other-settings",)),
    Fault(name="tone curve of one tile", kinds=("other-curve", "other-settings"),
          advice=(USE, CARE, CARE), change=other_curve, tiles=2, faulty=(0, 1),
          also=("other-exposure",)),
    Fault(name="mixed files", kinds=("other-settings", "low-depth"), advice=(USE, USE, CARE),
          change=mixed_files, tiles=2, faulty=(0, 1)),
    Fault(name="8 bits", kinds=("low-depth",), advice=(USE, USE, CARE), change=eight_bits),
    Fault(name="JPEG", kinds=("lossy",), advice=(USE, CARE, RESCAN), change=lossy,
          also=("low-depth", "noise")),
    Fault(name="sharpened", kinds=("sharpened",), advice=(USE, CARE, RESCAN), change=sharpened,
          also=("noise",)),
    Fault(name="wrong ppi", kinds=("scale",), advice=(CARE, CARE, CARE), change=wrong_ppi),
    Fault(name="wrong ppi one way", kinds=("scale",), advice=(CARE, CARE, CARE),
          change=wrong_ppi_one_way),
)  # fmt: skip
