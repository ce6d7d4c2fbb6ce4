"""Mirrored edges against another library's padding."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from numpy.typing import NDArray

from colormatch.errors import InputError
from colormatch.joining.wrapping import wrap_pixels, wrapped

PICTURE = np.random.default_rng(1).integers(0, 65536, (37, 29, 3)).astype(np.uint16)


def in_blocks(rows: int) -> Iterator[NDArray[np.uint16]]:
    for row in range(0, len(PICTURE), rows):
        yield PICTURE[row : row + rows]


@pytest.mark.parametrize("rows", [1, 4, 10, 37])
@pytest.mark.parametrize("margin", [0, 1, 7, 10, 28, 29])
def test_edges_are_mirrored_as_numpy_mirrors_them(rows: int, margin: int) -> None:
    # Reference: numpy.pad, mode "symmetric".
    out = np.concatenate(list(wrapped(in_blocks(rows), margin, height=len(PICTURE))))
    same = np.pad(PICTURE, ((margin, margin), (margin, margin), (0, 0)), mode="symmetric")
    np.testing.assert_array_equal(out, same)


def test_only_the_margins_rows_are_held() -> None:
    given = 0

    def counted() -> Iterator[NDArray[np.uint16]]:
        nonlocal given
        for block in in_blocks(2):
            given += len(block)
            yield block

    blocks = wrapped(counted(), 5, height=len(PICTURE))
    next(blocks)
    assert given == 6


def test_millimetres_become_pixels() -> None:
    assert wrap_pixels(40, 600, width=9000, height=12000) == 945


@pytest.mark.parametrize(("mm", "words"), [(-1, "0 mm or more"), (200, "has only 127 mm")])
def test_a_wrap_that_cannot_be_is_refused(mm: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        wrap_pixels(mm, 600, width=3000, height=5000)
