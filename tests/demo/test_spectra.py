"""Spectral sums against colour-science."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.science import colour_science
from demo.inks import print_spectra
from demo.paints import GOUACHE, blend
from demo.spectra import (
    FINE,
    GRID,
    LAMPS,
    SENSORS,
    grid_from_fine,
    lamp,
    sensor_weights,
    xyz_from_spectra,
)


def some_spectra() -> np.ndarray:
    rng = np.random.default_rng(3)
    paints = blend({"poppy red": 1}, {"meadow green": 1, "chalk white": 1}, GOUACHE, 5)
    return np.concatenate([print_spectra(rng.random((5, 4))), paints])


def test_xyz_agrees_with_colour_science() -> None:
    # colour-science, direct integration in 1 nm steps over 360-830 nm; the demo
    # stops at 380 and 730 nm, hence the tolerance.
    science = colour_science()
    observer = science.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    daylight = science.SDS_ILLUMINANTS["D50"].copy().align(observer.shape)
    for spectrum in some_spectra():
        fine = np.interp(FINE, GRID, spectrum)
        distribution = science.SpectralDistribution(fine, FINE).align(observer.shape)
        expected = science.sd_to_XYZ(distribution, observer, daylight, method="Integration")
        np.testing.assert_allclose(xyz_from_spectra(spectrum), expected / 100, atol=2e-4)


def test_perfect_diffuser_is_d50() -> None:
    # ICC.1:2022, D50 of the profile connection space.
    white = xyz_from_spectra(np.ones(36))
    np.testing.assert_allclose(white, [0.9642, 1.0, 0.8249], atol=5e-4)


def test_folding_keeps_the_sum_over_fine_wavelengths() -> None:
    reflectance = some_spectra()[0]
    fine = np.interp(FINE, GRID, reflectance)
    weights = lamp("fluorescent")
    assert grid_from_fine(weights) @ reflectance == pytest.approx(weights @ fine, rel=1e-12)


@pytest.mark.parametrize("lamp_name", LAMPS)
@pytest.mark.parametrize("sensor_name", SENSORS)
def test_white_reads_one(lamp_name: str, sensor_name: str) -> None:
    weights = sensor_weights(lamp_name, sensor_name)
    np.testing.assert_allclose(weights.sum(axis=1), 1.0)
    assert (weights >= 0).all()


def test_channels_are_red_green_blue() -> None:
    for name in LAMPS:
        centres = sensor_weights(name, "broad") @ GRID
        assert centres[0] > centres[1] > centres[2]


def test_unknown_names_are_named() -> None:
    with pytest.raises(ValueError, match="lamp must be one of white-led"):
        lamp("candle")
    with pytest.raises(ValueError, match="sensor must be one of broad"):
        sensor_weights("white-led", "eye")
