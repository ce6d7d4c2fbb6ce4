"""Whether readings are those of a reference: robust, whatever the scanner."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.science import colour_science
from colormatch.finding.turning import NOTHING, Wanted
from colormatch.model import FloatArray


def samples(lamp: str, observer: str) -> FloatArray:
    """XYZ of the CIE 13.3 test colours and the BCRA-like greys of their mixtures, (42, 3).

    Spectra, lamps and observers are those that colour-science carries.
    """
    science = colour_science()
    shape = science.SpectralShape(380, 780, 5)
    functions = science.MSDS_CMFS[observer].copy().align(shape).values
    light = science.SDS_ILLUMINANTS[lamp].copy().align(shape).values
    colours = science.quality.datasets.SDS_TCS["CIE 1995"].values()
    spectra = np.array([sd.copy().align(shape).values for sd in colours])
    spectra = np.concatenate([spectra, spectra[::-1] * 0.4, 0.5 * spectra[:14] + 0.45])
    weights = functions * light[:, None]
    result: FloatArray = spectra @ weights / weights[:, 1].sum()
    return result


REFERENCE = samples("D50", "CIE 1931 2 Degree Standard Observer")


@pytest.mark.parametrize("exponent", [1.0, 1.8, 2.2])
@pytest.mark.parametrize("lamp", ["FL2", "FL7", "A"])
def test_another_lamp_observer_curve_and_exposure_leave_it_the_same_sheet(
    lamp: str, exponent: float
) -> None:
    seen = samples(lamp, "CIE 1964 10 Degree Standard Observer")
    mixed = seen @ np.array([[0.8, 0.3, 0.0], [0.1, 0.5, 0.1], [0.05, 0.1, 0.6]])
    rgb = np.clip(mixed * 0.7, 0, 1) ** (1 / exponent)
    found = Wanted(REFERENCE).likeness(rgb)
    assert found.median < 2.5
    assert abs(found.exponent - exponent) <= 0.4


@pytest.mark.parametrize("seed", range(5))
def test_another_order_is_another_sheet(seed: int) -> None:
    order = np.random.default_rng(seed).permutation(len(REFERENCE))
    rgb = np.clip(REFERENCE[order] * 0.9, 0, 1) ** (1 / 2.2)
    assert Wanted(REFERENCE).likeness(rgb).median > 8


@pytest.mark.parametrize("seed", range(5))
def test_a_quarter_covered_changes_little(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rgb = np.clip(REFERENCE * 0.9, 0, 1) ** (1 / 2.2)
    covered = rng.choice(len(rgb), len(rgb) // 4, replace=False)
    rgb[covered] = rng.uniform(0.02, 0.9, 3)
    found = Wanted(REFERENCE).likeness(rgb)
    clean = np.setdiff1d(np.arange(len(rgb)), covered)
    assert np.median(found.errors[clean]) < 0.5
    assert found.median < 1.0


def test_clipped_unread_and_unknown_patches_say_nothing() -> None:
    rgb = np.clip(REFERENCE * 0.9, 0, 1) ** (1 / 2.2)
    rgb[0], rgb[1] = 1.0, np.nan
    reference = REFERENCE.copy()
    reference[2] = np.nan
    found = Wanted(reference).likeness(rgb)
    assert np.isnan(found.errors[:3]).all()
    assert np.isfinite(found.errors[3:]).all()
    assert found.median < 0.1


def test_few_patches_are_no_proof() -> None:
    rgb = np.full(REFERENCE.shape, np.nan)
    rgb[:9] = np.clip(REFERENCE[:9], 0, 1) ** (1 / 2.2)
    assert Wanted(REFERENCE).likeness(rgb).median == NOTHING
    assert Wanted(REFERENCE).likeness(np.full(REFERENCE.shape, 0.4)).median > 8
