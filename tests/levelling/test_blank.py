"""The blank sheet: the light of the glass without dust, hairs and creases."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.errors import ScanError
from colormatch.levelling.blank import BlankMap, blank_map
from colormatch.levelling.records import LevelTile
from tests.levelling.cases import shared_light
from tests.levelling.scenes import (
    GLASS,
    Array,
    Light,
    blank_sheet,
    smooth,
    together,
    vignette,
)

WAVES = smooth(np.random.default_rng(8), 0.004)
LIGHTS = {
    "parabola": shared_light(),
    "steep ends": vignette(0.06, power=4.0),
    "waves": together(shared_light(), WAVES),
}
INSIDE = (np.linspace(8.0, GLASS[0] - 8.0, 45), np.linspace(8.0, GLASS[1] - 8.0, 60))


def errors(found: BlankMap, light: Light) -> Array:
    """Departure of a map from the truth, both without their mean."""
    left = found.on_grid(*INSIDE) - light(INSIDE[0][None], INSIDE[1][:, None])
    return np.asarray(left - left.mean(axis=(0, 1)))


@pytest.mark.parametrize("name", list(LIGHTS))
def test_the_light_is_found_through_dust_hairs_and_a_crease(name: str) -> None:
    sheet = blank_sheet(np.random.default_rng(4), LIGHTS[name])
    left = errors(blank_map(sheet), LIGHTS[name])
    assert np.sqrt(np.mean(left**2)) < 0.001
    assert np.abs(left).max() < 0.005


def test_dust_hairs_and_creases_change_next_to_nothing() -> None:
    light, rng = shared_light(), np.random.default_rng
    clean = blank_map(blank_sheet(rng(4), light, dust=0, hairs=0, crease=False))
    dusty = blank_map(blank_sheet(rng(4), light, dust=60, hairs=10))
    assert clean.left_out < 0.002
    assert 0.01 < dusty.left_out < 0.35
    difference = dusty.on_grid(*INSIDE) - clean.on_grid(*INSIDE)
    assert np.abs(difference - difference.mean(axis=(0, 1))).max() < 0.004


def test_points_and_grid_agree_and_the_mean_of_the_paper_is_gone() -> None:
    found = blank_map(blank_sheet(np.random.default_rng(5), shared_light()))
    grid = found.on_grid(*INSIDE)
    points = np.stack(np.meshgrid(*INSIDE), axis=-1).reshape(-1, 2)
    np.testing.assert_allclose(found.log_light(points), grid.reshape(-1, 3), atol=1e-12)
    assert np.abs(grid.mean(axis=(0, 1))).max() < 0.02


def test_a_turned_file_gives_the_same_light() -> None:
    sheet = blank_sheet(np.random.default_rng(6), shared_light())
    swapped = np.array([[0.0, 1.5, 0.0], [1.5, 0.0, 0.0]])
    turned = replace(
        sheet,
        light=np.swapaxes(sheet.light, 0, 1),
        valid=sheet.valid.T,
        scanner_mm_from_px=swapped,
    )
    np.testing.assert_allclose(
        blank_map(turned).on_grid(*INSIDE), blank_map(sheet).on_grid(*INSIDE), atol=1e-6
    )


def printed(sheet: LevelTile) -> LevelTile:
    rng = np.random.default_rng(7)
    rows, columns = sheet.valid.shape
    squares = rng.uniform(0.3, 1.0, (rows // 8 + 1, columns // 8 + 1))
    picture = np.kron(squares, np.ones((8, 8)))[:rows, :columns, None]
    return replace(sheet, light=(sheet.light * picture).astype(np.float32))


def test_a_printed_sheet_is_refused() -> None:
    sheet = blank_sheet(np.random.default_rng(7), shared_light())
    with pytest.raises(ScanError, match=r"blank\.tif: the blank sheet is not plain"):
        blank_map(printed(sheet))


def test_a_sheet_without_usable_places_is_refused() -> None:
    sheet = blank_sheet(np.random.default_rng(7), shared_light())
    for light in (np.zeros_like(sheet.light), np.full_like(sheet.light, np.nan)):
        with pytest.raises(ScanError, match=r"too little of the blank sheet is usable \(0 places"):
            blank_map(replace(sheet, light=light))
    small = np.zeros_like(sheet.valid)
    small[:40, :30] = True
    with pytest.raises(ScanError, match="cover the whole glass"):
        blank_map(replace(sheet, valid=small))
