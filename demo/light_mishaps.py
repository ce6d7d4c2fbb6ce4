"""Known faults of the scanner: its lamp, its carriage, its sensor, its glass."""

from __future__ import annotations

import numpy as np

from .fault_records import CARE, RESCAN, USE, Fault, with_scanner, with_tile
from .jobs import Job

NOISE_L = (1.2, 2.5, 4.5)
"""Standard deviation of L* at mid grey; FADGI 2016 and 2023 grade at 1, 2, 3 and 4."""

SHOT_PER_L = 1 / 42.0
"""Shot noise at full scale for 1 L* at mid grey: dL*/dY is 22 per whole Y at L* 50, the
light there 0.15, and three channels average to 0.76 of one's noise in luminance."""

STREAK = ((0.008, 0.012), (0.025, 0.035), (0.05, 0.08))
"""Change of light in a streak. A step of 1 % is 0.22 ΔE2000; lines that run down the
whole picture are seen from 0.3 % on (limit of contrast vision), 5 % is beyond one ΔE."""

BANDING = (0.005, 0.015, 0.035)
"""Amplitude of bands across the carriage: FADGI 2016 grades evenness at 1, 3, 5 and 8 %
from lightest to darkest, so these make 1, 3 and 7 %."""

COLD = (0.012, 0.03, 0.06)
"""Light missing in the first scan. A first scan is usually about 1 % off; 6 % is beyond
FADGI 2016's 5 % for two stars."""

WARMING = (1.0, 0.4, 0.12)
"""What of it is still missing in the first, second and third scan."""

VIGNETTE = (0.045, 0.075, 0.16)
"""Light lost at both ends of the lamp: FADGI 2016 grades at 1, 3, 5 and 8 %."""

FLARE = (0.05, 0.08, 0.14)
"""Share of the surrounding light; flatbeds scatter 1 to 3 %."""

LAMPS = ("three-led-soft", "three-led", "three-led-far")
"""With the far peaks no matrix gets the strip's mean below FADGI 2016's 2 ΔE2000."""

DUST, HAIRS = (60, 200, 700), (4, 12, 40)
"""On 4 dm² of glass, where a wiped one has up to 25 and 2: strong is two specks on
every square centimetre, more than anyone retouches."""

GLARE, SPECK = (20, 90, 400), (1.0, 1.3, 1.8)
"""Specks on 3 dm² of varnish, and their size: strong is one on each square centimetre."""


def noisy(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Turn up the sensor's noise."""
    shot = NOISE_L[strength] * SHOT_PER_L * rng.uniform(1.0, 1.1)
    return with_scanner(job, 0, shot_noise=float(shot), read_noise=float(shot / 8))


def streaked(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Leave dust on the calibration strip: lines along the carriage."""
    count = int(rng.integers(3, 9))
    return with_tile(job, 0, streaks=count, streak_depth=STREAK[strength])


def banded(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Let the lamp flicker or the carriage stutter."""
    period = float(rng.uniform(2.5, 9.0))
    return with_scanner(job, 0, banding=BANDING[strength], banding_period=period)


def warming_up(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Switch the scanner on and scan at once: the light grows and changes its tint."""
    tint = np.array([1.0, 1.0 + rng.uniform(-0.2, 0.2), 1.0 + rng.uniform(0.1, 0.4)])
    for number in range(len(job.scans)):
        cold = COLD[strength] * WARMING[number] * tint
        gains = tuple(float(g) for g in np.array(job.scans[number].tile.gains) * (1 - cold))
        job = with_tile(job, number, gains=gains)
        # It grows while the first scan runs, too.
        tilt = job.scans[number].scanner.tilt + COLD[strength] * WARMING[number] * 0.5
        job = with_scanner(job, number, tilt=float(tilt))
    return job


def falling_off(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Let the lamp's ends grow dark."""
    return with_scanner(job, 0, vignette=float(VIGNETTE[strength] * rng.uniform(1.0, 1.15)))


def scattering(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Let the glass be hazy underneath."""
    return with_scanner(job, 0, flare=float(FLARE[strength] * rng.uniform(1.0, 1.1)))


def narrow_lamp(job: Job, strength: int, _rng: np.random.Generator) -> Job:
    """Light with three LEDs."""
    return with_scanner(job, 0, lamp=LAMPS[strength])


def dusty(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Do not wipe the glass."""
    more = rng.uniform(0.9, 1.2)
    return with_tile(job, 0, dust=int(DUST[strength] * more), hairs=int(HAIRS[strength] * more))


def glaring(job: Job, strength: int, rng: np.random.Generator) -> Job:
    """Let varnish throw the lamp back."""
    count = int(GLARE[strength] * rng.uniform(0.9, 1.2))
    return with_tile(job, 0, glare=count, speck=SPECK[strength])


# What a patch of known print proves may ask for another scan; streaks, bands, dust and
# glare may be the painter's, so that care is the mildest right advice.
LIGHT_FAULTS = (
    Fault(
        name="noise",
        kinds=("noise",),
        advice=(USE, CARE, RESCAN),
        change=noisy,
        # So much of it reaches the ends of the scale.
        also=("clipped", "blocked"),
    ),
    Fault(name="streaks", kinds=("streaks",), advice=(USE, CARE, CARE), change=streaked),
    Fault(name="banding", kinds=("banding",), advice=(USE, CARE, CARE), change=banded),
    Fault(
        name="warm-up",
        kinds=("warm-up",),
        advice=(USE, CARE, CARE),
        change=warming_up,
        also=("other-exposure",),
        tiles=3,
    ),
    Fault(name="fall-off", kinds=("fall-off",), advice=(USE, CARE, CARE), change=falling_off),
    Fault(
        name="scattered light",
        kinds=("scattered-light",),
        advice=(USE, CARE, CARE),
        change=scattering,
    ),
    Fault(
        name="three-LED lamp", kinds=("narrow-lamp",), advice=(USE, USE, CARE), change=narrow_lamp
    ),
    Fault(name="dust and hairs", kinds=("dust",), advice=(USE, CARE, CARE), change=dusty),
    Fault(
        name="glare",
        kinds=("glare",),
        advice=(USE, CARE, CARE),
        change=glaring,
        paintings=("dark-oil", "dark-oil", "abstract"),
    ),
)
