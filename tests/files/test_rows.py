"""Regrouping of blocks of rows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from colormatch.files.form import PictureForm
from colormatch.files.metadata import PictureFacts
from colormatch.files.rows import regrouped
from tests.files.pictures import noise


def form(height: int, width: int = 5, bits: int = 16) -> PictureForm:
    return PictureForm(
        width=width, height=height, bits=bits, profile=None, ppi=None, facts=PictureFacts()
    )


@given(heights=st.lists(st.integers(0, 9), min_size=1), rows=st.integers(1, 12))
def test_any_heights_join_to_the_same_picture(heights: list[int], rows: int) -> None:
    total = sum(heights) + 1
    pixels = noise(total, 5, 16)
    blocks = np.split(pixels, np.cumsum(heights))
    groups = list(regrouped(blocks, rows, form(total)))
    assert all(len(group) == rows for group in groups[:-1])
    assert 1 <= len(groups[-1]) <= rows
    np.testing.assert_array_equal(np.concatenate(groups), pixels)


def test_the_giver_may_use_its_memory_again() -> None:
    def blocks() -> Iterator[NDArray[Any]]:
        memory = np.empty((4, 5, 3), np.uint16)
        for value in (1, 2):
            memory[:] = value
            yield memory

    first, second = regrouped(blocks(), 4, form(8))
    assert (first == 1).all()
    assert (second == 2).all()


@pytest.mark.parametrize(
    ("blocks", "words"),
    [
        ([noise(8, 4, 16)], r"blocks must be \(rows, 5, 3\) uint16 \(got \(8, 4, 3\) uint16\)"),
        ([noise(8, 5, 8)], r"got \(8, 5, 3\) uint8"),
        ([noise(8, 5, 16)[..., 0]], r"got \(8, 5\)"),
        ([noise(8, 5, 16).astype(">u2")], "got .* >u2"),
        ([noise(7, 5, 16)], r"blocks must have 8 rows together \(got 7\)"),
        ([], r"8 rows together \(got 0\)"),
        ([noise(9, 5, 16)], r"8 rows together \(got more\)"),
        ([noise(8, 5, 16), noise(1, 5, 16)], r"8 rows together \(got more\)"),
    ],
)
def test_blocks_that_do_not_fit_are_programming_errors(
    blocks: list[NDArray[Any]], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        list(regrouped(blocks, 4, form(8)))
