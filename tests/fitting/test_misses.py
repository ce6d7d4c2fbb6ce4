"""What ink hides from three channels, against scanners made of published spectra.

Outside sources, all from colour-science: the lamps of CIE 15:2018, two measured sets of
camera sensitivities, the CIE 224:2017 samples as paints, the CIE 1931 observer. That a
spectrally flat grey has the white's chromaticity needs no source. The inks are the demo's.
"""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.difference import metric_roots
from colormatch.colour.science import colour_science
from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab
from colormatch.files.layouts import shipped_reference
from colormatch.fitting.choosing import Choice, choose
from colormatch.fitting.judging import alike_fitted, difference, judge
from colormatch.fitting.matrix import solve_matrix
from colormatch.fitting.misses import ALWAYS, miss_covariance, miss_size, whitening
from colormatch.fitting.readings import TileReadings
from colormatch.fitting.solving import solve_tiles
from colormatch.fitting.tone import ToneCurve, straight
from colormatch.model import FloatArray
from demo.inks import driver, print_spectra
from demo.spectra import GRID as WIDE
from tests.fitting import spectral

LAMPS = ("LED-B1", "LED-B3", "LED-V1", "FL2", "FL8", "FL11", "D50", "A")
GREYS = np.outer(np.linspace(0.06, 0.9, 9), np.ones(len(spectral.GRID)))


def sensors() -> list[FloatArray]:
    """Bell curves, and each set of camera sensitivities: (31, 3) without a lamp."""
    colour = colour_science()
    shape = colour.SpectralShape(400, 700, 10)
    cameras = [
        np.clip(one.copy().align(shape).values, 0, None)
        for one in colour.MSDS_CAMERA_SENSITIVITIES.values()
    ]
    bells = spectral.sensor("LED-B3") / spectral.lamp("LED-B3")[:, None]
    return [bells, *cameras]


def weights(number: int, lamp: str) -> FloatArray:
    """Weights (31, 3) to linear RGB of one scanner, white giving 0.85."""
    whole = sensors()[number] * spectral.lamp(lamp)[:, None]
    return np.asarray(whole / whole.sum(axis=0) * 0.85)


def inks() -> FloatArray:
    """Reflectances (65, 31) of the long strip as the demo's printer prints it."""
    wide = print_spectra(driver(shipped_reference("strip-long").xyz))
    return np.stack([np.interp(spectral.GRID, WIDE, one) for one in wide])


def strip(light: FloatArray, name: str = "tile", seed: int = 0) -> TileReadings:
    """Read the strip once: 0.3 % of noise on linear light, 0.15 on each of L*, a*, b*."""
    rng, true = np.random.default_rng(seed), inks() @ spectral.observer()
    lab = lab_from_xyz(true)
    encoded = spectral.curve("srgb", light * (1 + 0.003 * rng.standard_normal(light.shape)))
    return TileReadings(
        name=name,
        ids=tuple(f"P{i}" for i in range(len(true))),
        rgb=encoded,
        noise=np.full(len(true), 0.003),
        xyz=xyz_from_lab(lab + rng.normal(0, 0.15, lab.shape)),
        neutral=np.linalg.norm(lab[:, 1:], axis=1) < 4.6,
        along=rng.permutation(np.linspace(-1, 1, len(true))),
        points=np.zeros((len(true), 2)),
    )


def srgb() -> ToneCurve:
    return ToneCurve(base="srgb", exponent=1.0, bend=straight())


def covariance_of(readings: TileReadings) -> FloatArray:
    return miss_covariance(readings.xyz, readings.neutral, metric_roots(readings.xyz))


def errors(matrix: FloatArray, sensor: FloatArray, spectra: FloatArray) -> float:
    """Mean CIEDE2000 of paints of these spectra through a matrix."""
    seen = spectra @ sensor @ matrix.T
    return float(difference(seen, spectra @ spectral.observer()).mean())


@pytest.mark.parametrize("lamp", LAMPS)
@pytest.mark.parametrize("number", [0, 1, 2])
def test_greys_come_out_grey_and_paints_no_worse(number: int, lamp: str) -> None:
    sensor = weights(number, lamp)
    light = inks() @ sensor
    readings = strip(light)
    alike = solve_matrix(light, readings.xyz, metric_roots(readings.xyz))
    fitted = solve_tiles([readings], srgb(), bends=False)
    found, paints = fitted.xyz_from_rgb, spectral.samples()
    assert errors(found, sensor, GREYS) < 0.85 * errors(alike, sensor, GREYS)
    assert errors(found, sensor, paints) < 1.05 * errors(alike, sensor, paints)


@pytest.mark.parametrize("lamp", LAMPS)
def test_misfits_are_told_by_what_suits_the_inks_best(lamp: str) -> None:
    readings = strip(inks() @ weights(0, lamp))
    judgement = judge([readings], solve_tiles([readings], srgb(), bends=False))[0]
    assert judgement.alike.mean() < judgement.fitted.mean()
    dimmed = alike_fitted(0.7 * judgement.light, readings.xyz)
    np.testing.assert_allclose(dimmed, judgement.alike, atol=1e-6)


def test_paper_is_missed_least_and_no_colour_is_missed_in_one_direction_only() -> None:
    readings = strip(inks() @ weights(0, "LED-B3"))
    covariance = covariance_of(readings)
    size = np.sqrt(np.trace(covariance, axis1=1, axis2=2) / 3)
    paper = np.argmax(np.where(readings.neutral, readings.xyz[:, 1], 0))
    assert size.argmin() == paper
    np.testing.assert_allclose(covariance[paper], ALWAYS**2 * np.eye(3))
    assert np.linalg.eigvalsh(covariance).min() >= ALWAYS**2 * (1 - 1e-9)
    # The unit is the typical patch of ink.
    assert 0.7 < np.median(size) < 1.5


def test_the_more_ink_the_more_is_missed() -> None:
    readings = strip(inks() @ weights(0, "LED-B3"))
    size, light = miss_size(readings.xyz, readings.neutral), readings.xyz[:, 1]
    assert size.min() == pytest.approx(ALWAYS)
    assert size[light < 0.3].mean() > size[(light > 0.3) & (light < 0.7)].mean() > 2 * size.min()


def test_whitened_errors_have_unit_covariance() -> None:
    readings = strip(inks() @ weights(0, "LED-B3"))
    covariance = covariance_of(readings)
    white = whitening(covariance)
    found = white @ covariance @ np.swapaxes(white, 1, 2)
    np.testing.assert_allclose(found, np.broadcast_to(np.eye(3), found.shape), atol=1e-9)


def test_a_target_without_greys_takes_its_lightest_patch_for_paper() -> None:
    xyz = np.array([[0.2, 0.3, 0.1], [0.7, 0.8, 0.3], [0.0, 0.0, 0.0]])
    covariance = miss_covariance(xyz, np.zeros(3, dtype=bool), metric_roots(xyz))
    np.testing.assert_allclose(covariance[1], ALWAYS**2 * np.eye(3))
    assert np.isfinite(whitening(covariance)).all()


def test_the_same_inks_seen_in_four_tiles_prove_no_more_than_in_one() -> None:
    one = strip(inks() @ weights(0, "FL11"))
    single, many = choose([one]), choose([one] * 4)
    for form in ("power", "sRGB"):
        assert share_of(many, form) == pytest.approx(share_of(single, form), abs=0.05)
    np.testing.assert_allclose(many.solution.xyz_from_rgb, single.solution.xyz_from_rgb, atol=0.001)


def share_of(choice: Choice, form: str) -> float:
    return sum(share for name, share in choice.shares.items() if name.startswith(form))
