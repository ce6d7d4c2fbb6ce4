"""Places against the mapping they come from, computed exactly."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.compiled.resampling import SUBPIXELS
from colormatch.joining.places import LARGEST_SLIP, PATCH, Lattice, lattice_spacing
from colormatch.model import FloatArray, Window
from tests.joining.pieces import BLOCK, slanted, true_places, wobbling


@pytest.mark.parametrize("mapping", [slanted, wobbling])
def test_places_are_true_to_half_a_step(mapping: object) -> None:
    assert callable(mapping)
    window = Window(row=211, column=97, height=301, width=403)
    found = Lattice(mapping, lattice_spacing(mapping, 3000, 2000)).places(window)
    given = np.stack([found.x, found.y], axis=-1) / SUBPIXELS
    slip = np.abs(given - true_places(mapping, window)).max()
    assert slip <= 0.5 / SUBPIXELS + LARGEST_SLIP


def test_a_rougher_mapping_gets_a_finer_lattice() -> None:
    def rough(points: FloatArray) -> FloatArray:
        return np.asarray(points + 0.5 * np.sin(points[:, ::-1] * 2 * np.pi / 60))

    assert lattice_spacing(slanted, 3000, 2000) == 32
    assert lattice_spacing(rough, 3000, 2000) < 16
    found = Lattice(rough, lattice_spacing(rough, 3000, 2000)).places(BLOCK)
    given = np.stack([found.x, found.y], axis=-1) / SUBPIXELS
    assert np.abs(given - true_places(rough, BLOCK)).max() <= 0.5 / SUBPIXELS + LARGEST_SLIP


def test_places_do_not_depend_on_the_window() -> None:
    whole = Lattice(wobbling, 32).places(BLOCK)
    inner = Window(row=BLOCK.row + 13, column=BLOCK.column + 29, height=50, width=71)
    piece = Lattice(wobbling, 32).places(inner)
    np.testing.assert_array_equal(piece.x, whole.x[13:63, 29:100])
    np.testing.assert_array_equal(piece.y, whole.y[13:63, 29:100])


def test_places_across_patches_are_those_computed_at_once() -> None:
    # A window over the corner of four patches, left of and above the canvas too.
    reach = 2 * PATCH
    for row, column in ((reach - 9, reach - 11), (-7, -5)):
        window = Window(row=row, column=column, height=40, width=50)
        found = Lattice(wobbling, 2).places(window)
        given = np.stack([found.x, found.y], axis=-1) / SUBPIXELS
        assert np.abs(given - true_places(wobbling, window)).max() <= 0.5 / SUBPIXELS + LARGEST_SLIP


def test_what_a_scan_must_give_and_what_lies_in_it() -> None:
    found = Lattice(slanted, 32).places(BLOCK)
    needed = found.needed(260, 220)
    assert needed is not None
    assert found.within(needed).all()
    half = Window(row=needed.row, column=needed.column, height=needed.height, width=60)
    inside = found.within(half)
    right = (needed.column + 60 - 0.5) * SUBPIXELS
    np.testing.assert_array_equal(inside, found.x <= right)
    assert found.needed(40, 30) is None
