"""What `check` says of single scans with one known fault, whose truth the demo keeps."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import tifffile

from colormatch.job.checking import check
from colormatch.job.options import CheckOptions
from colormatch.verdict import Advice, Finding, Kind
from demo.jobs import Job, render, save, sound_job
from demo.known_faults import FAULTS, faulty_job

PPI = 150.0


def findings(job: Job, folder: Path) -> list[Finding]:
    """Render a job of one scan and check it."""
    files = render(job, folder)
    report = check(files.scans, CheckOptions(reference=files.reference))
    return list(report.tiles[0].findings)


def with_fault(name: str, strength: str, seed: int = 0) -> Job:
    (fault,) = (one for one in FAULTS if one.name == name)
    return faulty_job(fault, strength, seed=seed, ppi=PPI)


def test_three_led_lamps_are_told_and_the_far_ones_gravely(tmp_path: Path) -> None:
    for strength, advice in (("plain", Advice.USE), ("strong", Advice.CARE)):
        folder = tmp_path / strength
        folder.mkdir()
        found = findings(with_fault("three-LED lamp", strength), folder)
        (lamp,) = (one for one in found if one.kind is Kind.NARROW_LAMP)
        assert (lamp.advice, lamp.hint) == (advice, True)


def test_a_lamp_that_loses_more_than_two_stars_allow_is_told(tmp_path: Path) -> None:
    # FADGI 2016 grades evenness at 1, 3, 5 and 8 %; the fault is 7.5 %.
    found = findings(with_fault("fall-off", "plain", seed=2), tmp_path)
    (uneven,) = (one for one in found if one.kind is Kind.FALL_OFF)
    assert uneven.measure is not None
    assert 5.0 < uneven.measure < 8.6


def test_a_sound_scan_has_nothing_to_tell(tmp_path: Path) -> None:
    # Another painting than those that limits were chosen on.
    assert findings(sound_job("coast", seed=11_000, tiles=1, ppi=PPI), tmp_path) == []


def test_one_scan_alone_hints_at_a_side_off_the_glass(tmp_path: Path) -> None:
    two = with_fault("off the glass", "strong", seed=1)
    (scan,) = (one for one in two.scans if one.tile.lifted is not None)
    found = findings(replace(two, scans=(scan,)), tmp_path)
    (soft,) = (one for one in found if one.kind is Kind.OFF_GLASS)
    assert (soft.hint, soft.advice) == (True, Advice.CARE)
    # Drawn with 0.35 mm at the rim of the glass, less with the distance from it.
    assert soft.measure is not None
    assert 0.11 < soft.measure < 0.35
    x, _, width, _ = soft.places[0]
    assert x + width > 185


def test_automatic_levels_are_suspected_from_one_scan(tmp_path: Path) -> None:
    """Stretch each channel so that a thousandth is lost at both ends, as drivers do."""
    job = sound_job("abstract", seed=11_002, tiles=1, ppi=PPI)
    files = render(job, tmp_path)
    pixels = tifffile.imread(files.scans[0]).astype(np.float32)
    low, high = np.quantile(pixels[::4, ::4].reshape(-1, 3), [0.001, 0.999], axis=0)
    pixels = np.clip((pixels - low) / (high - low), 0, 1) * 65535
    save(files.scans[0], pixels.astype(np.uint16), job.scans[0].saved, PPI)
    report = check(files.scans, CheckOptions(reference=files.reference))
    (found,) = (f for f in report.tiles[0].findings if f.kind is Kind.OTHER_EXPOSURE)
    assert found.hint
    assert found.measure is not None
    assert found.measure > 98
