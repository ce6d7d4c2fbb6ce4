"""A tile's rows are read once, and temporary files go."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from colormatch.errors import OutputError
from colormatch.joining.sources import HeldRows, RowBands, Spooled, source_of
from colormatch.model import Window
from tests.joining.pieces import cut, part

PICTURE = np.random.default_rng(1).integers(0, 65536, (200, 90, 3)).astype(np.uint16)
WHOLE = Window(row=0, column=0, height=200, width=90)
BANDS = [(0, 60), (44, 110), (100, 150), (150, 200)]


@pytest.mark.parametrize("bands", [BANDS, BANDS[::-1]], ids=["downward", "upward"])
def test_rows_shared_by_bands_are_read_once(bands: list[tuple[int, int]]) -> None:
    tile, counted = cut(PICTURE, WHOLE)
    source = RowBands(tile)
    for start, stop in bands:
        window = Window(row=start + 3, column=10, height=stop - start - 5, width=50)
        np.testing.assert_array_equal(
            source.rows(start, stop).window(window), part(PICTURE, window)
        )
    assert (counted.rows == 1).all()


def test_rows_that_are_not_held_are_not_made_up() -> None:
    held = HeldRows(start=10, pixels=PICTURE[10:20])
    with pytest.raises(IndexError):
        held.window(Window(row=15, column=0, height=6, width=5))


def test_a_tile_at_rest_is_released_and_read_again() -> None:
    tile, counted = cut(PICTURE, WHOLE)
    source = RowBands(tile)
    source.rows(0, 50)
    source.rest()
    source.rest()
    assert counted.released == 1
    source.rows(40, 50)
    assert counted.rows[45] == 2


@pytest.mark.parametrize("bits", [8, 16])
def test_a_spooled_tile_is_read_once_and_given_by_window(bits: int, tmp_path: Path) -> None:
    picture = PICTURE if bits == 16 else (PICTURE >> 8).astype(np.uint8)
    tile, counted = cut(picture, WHOLE)
    source = Spooled(tile, tmp_path)
    for window in (Window(row=0, column=70, height=200, width=20), WHOLE):
        np.testing.assert_array_equal(source.rows(0, 1).window(window), part(picture, window))
    assert (counted.rows == 1).all()
    source.close()
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_hold_it_is_named(tmp_path: Path) -> None:
    tile, _ = cut(PICTURE, WHOLE)
    with pytest.raises(OutputError, match=r"absent.*make room"):
        Spooled(tile, tmp_path / "absent").rows(0, 10)


def test_a_scan_damaged_half_way_leaves_no_temporary_file(tmp_path: Path) -> None:
    tile, _ = cut(PICTURE, WHOLE)

    def read(window: Window) -> NDArray[np.uint16]:
        if window.row > 100:
            raise ValueError("damaged")
        return part(PICTURE, window)

    with pytest.raises(ValueError, match="damaged"):
        Spooled(replace(tile, read=read), tmp_path).rows(0, 10)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("turns", "kind"), [(0, RowBands), (1, Spooled), (2, RowBands), (3, Spooled)]
)
def test_only_tiles_turned_by_a_quarter_are_spooled(turns: int, kind: type) -> None:
    tile, _ = cut(PICTURE, WHOLE, turns)
    assert isinstance(source_of(tile, (45.0, 100.0), None), kind)
