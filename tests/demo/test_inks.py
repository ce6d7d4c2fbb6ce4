"""The printed sheet: halftone, inverse, and its difference from paint."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from demo.inks import coverage_for_xyz, driver, paper, print_spectra
from demo.paints import GOUACHE, VARNISHED_OIL, Surface, blend
from demo.spectra import sensor_weights, xyz_from_spectra


def test_no_ink_is_paper() -> None:
    np.testing.assert_allclose(print_spectra(np.zeros(4)), paper())


def test_halftone_with_one_ink_follows_yule_and_nielsen() -> None:
    # Yule and Nielsen 1951: R^(1/n) is linear in the dot area; n = 2 here.
    solid = np.array([0.0, 1.0, 0.0, 0.0])
    ends = [np.sqrt(print_spectra(share * solid)) for share in (0.0, 0.3, 1.0)]
    np.testing.assert_allclose(ends[1], 0.7 * ends[0] + 0.3 * ends[2])


def test_the_inverse_finds_printable_colours() -> None:
    rng = np.random.default_rng(1)
    chromatic = rng.uniform(0.1, 0.8, (40, 3))
    chromatic[:, 0] = 0.15
    xyz = xyz_from_spectra(print_spectra(np.column_stack([chromatic, np.zeros(40)])))
    found = xyz_from_spectra(print_spectra(coverage_for_xyz(xyz)))
    assert delta_e_2000(lab_from_xyz(xyz), lab_from_xyz(found)).max() < 0.5


def test_the_print_misses_what_was_asked_by_several_units() -> None:
    asked = np.array([[0.2, 0.2, 0.15], [0.5, 0.5, 0.42], [0.3, 0.25, 0.1], [0.15, 0.2, 0.3]])
    made = xyz_from_spectra(print_spectra(driver(asked)))
    missed = delta_e_2000(lab_from_xyz(asked), lab_from_xyz(made))
    assert 2 < missed.mean() < 12


@pytest.mark.parametrize(
    ("lamp", "sensor"),
    [("white-led", "broad"), ("fluorescent", "steep"), ("three-led", "broad")],
)
def test_print_and_paint_of_one_colour_read_differently(lamp: str, sensor: str) -> None:
    pairs: list[tuple[dict[str, float], dict[str, float], Surface]] = [
        ({"poppy red": 1, "chalk white": 1}, {"field ochre": 1, "chalk white": 0.5}, GOUACHE),
        ({"deep blue": 0.3, "chalk white": 1}, {"meadow green": 1, "chalk white": 1}, GOUACHE),
        ({"bark brown": 1, "chalk white": 1}, {"brick earth": 1, "chalk white": 1}, VARNISHED_OIL),
    ]
    painted = np.concatenate([blend(*pair, 5) for pair in pairs])
    xyz = xyz_from_spectra(painted)
    printed = print_spectra(coverage_for_xyz(xyz, steps=60))
    alike = delta_e_2000(lab_from_xyz(xyz), lab_from_xyz(xyz_from_spectra(printed))) < 0.05
    assert alike.sum() >= 8
    weights = sensor_weights(lamp, sensor)
    apart = np.abs((printed - painted) @ weights.T) / (painted @ weights.T)
    # Patch noise of a scan is under 0.3 %; the readings differ by several times that.
    assert np.median(apart[alike].max(axis=1)) > 0.01
