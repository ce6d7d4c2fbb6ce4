"""Maps between scan, glass and sheet."""

from __future__ import annotations

import numpy as np
import pytest

from demo.geometry import Carriage, Placing, SheetMap

CARRIAGE = Carriage(ppi=300, width=190, stretch=1.001, wobble=0.05, period=29, phase=0.7, lens=0.08)


def test_pixel_centres_lie_on_whole_numbers() -> None:
    plain = Carriage(ppi=254, width=100)
    np.testing.assert_allclose(plain.glass_from_px(np.array([-0.5, -0.5])), [0, 0], atol=1e-12)
    np.testing.assert_allclose(plain.glass_from_px(np.array([9.5, 19.5])), [1, 2])


def test_quarter_turn_is_clockwise_on_the_picture() -> None:
    turned = Placing(centre=(0, 0), at=(50, 50), turns=1)
    # What pointed right on the sheet points down in the picture.
    np.testing.assert_allclose(turned.glass_from_sheet(np.array([10.0, 0.0])), [50, 60])


@pytest.mark.parametrize("turns", range(4))
def test_there_and_back(turns: int) -> None:
    placing = Placing(centre=(30, 80), at=(95, 100), turns=turns, slant=-7.5)
    where = SheetMap(carriage=CARRIAGE, placing=placing)
    px = np.random.default_rng(turns).uniform(0, 2200, (200, 2))
    np.testing.assert_allclose(where.px_from_sheet(where.sheet_from_px(px)), px, atol=1e-8)


def test_grid_is_the_map_at_every_pixel() -> None:
    where = SheetMap(
        carriage=CARRIAGE, placing=Placing(centre=(3, 8), at=(9, 10), turns=3, slant=2)
    )
    x, y = where.grid(range(100, 140), 50)
    columns, rows = np.meshgrid(np.arange(50), np.arange(100, 140))
    expected = where.sheet_from_px(np.stack([columns, rows], axis=-1))
    np.testing.assert_allclose(np.stack([x, y], axis=-1), expected)


def test_wobble_has_its_amplitude_and_period() -> None:
    rows = np.arange(0, 2500.0)
    still = Carriage(ppi=300, width=190, stretch=1.001, lens=0.08)
    swing = CARRIAGE.glass_y(rows) - still.glass_y(rows)
    assert np.ptp(swing) / 2 == pytest.approx(0.05, rel=1e-3)
    ups = np.flatnonzero((swing[:-1] < 0) & (swing[1:] >= 0))
    assert np.diff(ups).mean() * 25.4 / 300 == pytest.approx(29, rel=0.01)
