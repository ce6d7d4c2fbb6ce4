"""Carrying values over between prints: against colours that are known exactly."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from colormatch.fitting.carrying import Carried, carry_over
from colormatch.fitting.judging import difference
from colormatch.fitting.matrix import solve_matrix
from colormatch.model import FloatArray
from demo.inks import HOME, Printer, print_spectra, with_black
from demo.spectra import sensor_weights, xyz_from_spectra


def prints(printer: Printer, seed: int, count: int = 60) -> tuple[FloatArray, FloatArray]:
    """Light in a scanner and XYZ of halftones of random coverage."""
    rng = np.random.default_rng(seed)
    inks = with_black(rng.uniform(0, 1, (count, 3)), printer.grey_component)
    spectra = print_spectra(inks, printer)
    weights = sensor_weights("white-led", "leaning")
    return spectra @ weights.T, xyz_from_spectra(spectra)


def carried(printer: Printer, *, same_ink: bool = True) -> tuple[Carried, FloatArray, FloatArray]:
    """Carry over to other prints; also give the errors, and those of the matrix alone."""
    known_light, known = prints(HOME, 1)
    light, true = prints(printer, 2)
    matrix = solve_matrix(known_light, known, np.repeat(np.eye(3)[None], len(known), axis=0))
    alone = difference(known_light @ matrix.T, known)
    done = carry_over(light, known_light, known, matrix, alone, same_ink=same_ink)
    off = delta_e_2000(lab_from_xyz(done.xyz), lab_from_xyz(true))
    return done, off, difference(light @ matrix.T, true)


def test_ink_of_the_same_kind_gains_by_what_the_matrix_missed() -> None:
    done, off, alone = carried(HOME)
    assert done.interpolated
    assert off.mean() < 0.4 * alone.mean()
    # The uncertainty stated holds: most errors lie within twice of it.
    assert np.mean(off < 2 * done.sigma) > 0.85
    assert off.mean() == pytest.approx(done.sigma.mean(), rel=0.5)


def test_colours_far_from_all_known_ones_are_said_to_be_uncertain() -> None:
    known_light, known = prints(HOME, 1)
    matrix = solve_matrix(known_light, known, np.repeat(np.eye(3)[None], len(known), axis=0))
    alone = difference(known_light @ matrix.T, known)
    places = np.array([known_light[5], [2.0, 0.01, 1.5]])
    done = carry_over(places, known_light, known, matrix, alone)
    assert done.sigma[1] > 3 * done.sigma[0]


def test_other_ink_is_left_to_the_matrix_and_said_to_be_less_sure() -> None:
    other = Printer(shift=(18.0, -12.0, 10.0))
    done, off, alone = carried(other, same_ink=False)
    assert not done.interpolated
    assert off == pytest.approx(alone, abs=1e-6)
    assert done.sigma.mean() > 2 * carried(HOME)[0].sigma.mean()


def test_residuals_without_order_are_not_followed() -> None:
    rng = np.random.default_rng(4)
    light = rng.uniform(0.05, 0.9, (60, 3))
    matrix = np.array([[0.6, 0.2, 0.15], [0.3, 0.65, 0.05], [0.02, 0.1, 0.7]])
    known = np.maximum(light @ matrix.T * (1 + 0.02 * rng.standard_normal((60, 3))), 0)
    alone = difference(light @ matrix.T, known)
    done = carry_over(light + 0.01, light, known, matrix, alone)
    off = delta_e_2000(lab_from_xyz(done.xyz), lab_from_xyz((light + 0.01) @ matrix.T))
    assert off.mean() < 0.5 * alone.mean()
