"""Each known fault against the published figures its strengths are argued from."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from colormatch.verdict import Advice, Kind
from demo import faults
from demo.driver_mishaps import GAMMAS, OVER, PAPER, SHARPEN, STATED
from demo.fault_records import STRENGTHS, Fault
from demo.inks import paper
from demo.jobs import LEAST_OVERLAP, STRIP, sound_job
from demo.known_faults import FAULTS, faulty_job
from demo.light_mishaps import BANDING, NOISE_L, SHOT_PER_L, VIGNETTE
from demo.painting_mishaps import OVERLAP_MM
from demo.presets import GLASS
from demo.settings import ScannerModel
from demo.spectra import sensor_weights
from demo.strip import shipped_strip, true_reference
from demo.strip_mishaps import DRIFTS

BY_NAME = {fault.name: fault for fault in FAULTS}


def test_there_are_more_than_fifteen_kinds_and_every_name_is_known() -> None:
    assert len(BY_NAME) == len(FAULTS)
    kinds = {kind for fault in FAULTS for kind in fault.kinds}
    assert len(kinds) >= 15
    for fault in FAULTS:
        assert {*fault.kinds, *fault.also} <= set(Kind)
        assert fault.faulty[-1] < fault.tiles


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.name)
def test_a_fault_grows_with_its_strength_and_repeats(fault: Fault) -> None:
    order = list(Advice)
    for milder, graver in pairwise(fault.advice):
        assert order.index(Advice(milder)) <= order.index(Advice(graver))
    painting = fault.paintings[4 % len(fault.paintings)]
    jobs = [faulty_job(fault, strength, seed=4, ppi=100) for strength in STRENGTHS]
    assert jobs[0] == faulty_job(fault, STRENGTHS[0], seed=4, ppi=100)
    assert sound_job(painting, seed=4, tiles=fault.tiles, ppi=100) not in jobs
    if fault.name != "nominal reference":
        assert len({repr(job) for job in jobs}) == 3


def test_noise_has_its_standard_deviation_of_lightness() -> None:
    # FADGI 2016 grades end at 4; L* by CIE 15; luminance weights of IEC 61966-2-1.
    weights = np.array([0.2126, 0.7152, 0.0722])
    for strength, wanted in zip(STRENGTHS, NOISE_L, strict=True):
        shot = wanted * SHOT_PER_L
        scanner = ScannerModel(shot_noise=shot, read_noise=shot / 8)
        exposure = 0.85
        grey = np.full((200, 200, 3), 0.184 * exposure, np.float32)
        seen = faults.noisy(grey, scanner, np.random.default_rng(1)) @ weights / exposure
        lightness = 116 * np.cbrt(np.maximum(seen, 0.009)) - 16
        assert lightness.std() == pytest.approx(wanted, rel=0.15), strength
    assert NOISE_L[2] > 4


def test_sharpening_goes_past_the_grades_of_the_largest_modulation() -> None:
    # MTF of the demo's optics (Gaussian) and pixel (sinc), times that of the unsharp
    # mask; FADGI 2016: up to 1.0, 1.1, 1.2 and 1.3 for four to one star.
    frequency = np.linspace(0, 0.5, 501)
    optics = np.exp(-2 * (np.pi * 0.575 * frequency) ** 2) * np.sinc(frequency)
    mask = np.exp(-2 * (np.pi * frequency) ** 2)
    slight, plain, strong = (float((optics * (1 + a * (1 - mask))).max()) for a in SHARPEN)
    assert 0.99 <= slight < 1.1
    assert 1.05 < plain < 1.3
    assert strong > 1.3


def test_tone_curves_go_past_the_grades_of_the_tone_response() -> None:
    # Grey of Y 0.184 (L* 50) encoded with one exponent and decoded with the other;
    # FADGI 2023: 1.5, 3, 4.5 and 6 L* for four to one star.
    off = [50 - (116 * np.cbrt(0.184**ratio) - 16) for ratio in GAMMAS]
    assert off[0] < 1.5
    assert 3 < off[1] < 4.5
    assert off[2] > 6


def test_evenness_and_scale_go_past_the_last_grade() -> None:
    # FADGI 2016: evenness 1, 3, 5, 8 %; scale 1, 2, 3 %.
    assert BANDING[0] * 2 <= 0.01
    assert VIGNETTE[0] < 0.05 < VIGNETTE[1] < 0.08 < VIGNETTE[2]
    assert STATED[0] <= 1.02
    assert STATED[2] - 1 > 0.03


def test_overlaps_are_below_what_the_trade_asks_for() -> None:
    job = faulty_job(BY_NAME["little overlap"], "strong", seed=1, ppi=100)
    first, second = (one.tile.placing for one in job.scans)
    shared = first.centre[0] + GLASS[0] - first.at[0] - second.centre[0]
    assert shared == pytest.approx(OVERLAP_MM[2], abs=0.6)
    assert OVERLAP_MM[2] < LEAST_OVERLAP / 3


def test_paper_goes_over_the_top() -> None:
    light = sensor_weights("white-led", "broad") @ paper()
    assert light.mean() == pytest.approx(PAPER, abs=0.02)
    for over in OVER:
        assert light.max() * over / PAPER > 1


def test_values_of_another_sheet_are_off_by_what_is_said() -> None:
    ours = lab_from_xyz(true_reference(shipped_strip(STRIP, ppi=150)).xyz)
    for drift, least, most in ((DRIFTS[0], 1.0, 3.0), (DRIFTS[1], 3.0, 7.0)):
        other = true_reference(shipped_strip(STRIP, ppi=150, drift=drift))
        mean = float(delta_e_2000(ours, lab_from_xyz(other.xyz)).mean())
        assert least < mean < most
