"""The demo's sheet of paints: it is painted, uneven, measured with noise, and all its own."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from demo import swatches
from demo.scene import make_scene
from demo.spectra import xyz_from_spectra

SCENE = make_scene("coast", seed=3, size=(120.0, 90.0), ppi=60)


@pytest.mark.parametrize("choice", swatches.CHOICES)
def test_boxes_hold_the_paints_and_the_values_are_theirs_with_noise(choice: str) -> None:
    rng = np.random.default_rng(0)
    chosen = swatches.chosen_paints(SCENE, choice)
    sheet = swatches.painted_sheet(chosen, rng)
    lines = swatches.measured_table(sheet, chosen, rng).splitlines()[1:]
    assert len(lines) == len(chosen.names) == swatches.COUNT
    stated = np.array([[float(cell) for cell in line.split(",")[2:]] for line in lines])
    true = np.array([swatches.middle_xyz(sheet, patch.id) for patch in sheet.layout.patches])
    off = np.linalg.norm(stated - lab_from_xyz(true), axis=1)
    # 0.3 ΔE*ab in all, by 24 readings of three normal parts.
    assert np.sqrt(np.mean(off**2)) == pytest.approx(0.3, rel=0.3)
    ends = xyz_from_spectra(chosen.levels[:, [0, -1]])
    apart = delta_e_2000(lab_from_xyz(ends[:, 0]), lab_from_xyz(ends[:, 1]))
    assert 0.1 < np.median(apart) < 6


def test_a_sheet_of_ten_tubes_lacks_paints_that_the_picture_has() -> None:
    names = swatches.chosen_paints(SCENE, "ten-tubes").names
    assert not any(missing in name for name in names for missing in swatches.MISSING)
    assert set(swatches.MISSING) <= set(swatches.chosen_paints(SCENE, "tubes").names)


def test_an_unknown_choice_is_refused() -> None:
    with pytest.raises(ValueError, match="own, tubes, ten-tubes"):
        swatches.chosen_paints(SCENE, "all")
