"""Rims against what a hand count gives."""

from __future__ import annotations

import numpy as np

from colormatch.joining.records import UNCOVERED
from colormatch.joining.rims import rim_filled

PIXEL = 0.5
"""mm: the rim is four pixels wide."""


def covered() -> np.ndarray[tuple[int, int], np.dtype[np.uint8]]:
    labels = np.zeros((60, 80), np.uint8)
    labels[:, 40:] = 1
    return labels


def test_a_picture_shown_everywhere_stays_as_it_is() -> None:
    filled, share = rim_filled(covered(), PIXEL)
    np.testing.assert_array_equal(filled, covered())
    assert share == 0


def test_nicks_go_to_the_tile_beside_them() -> None:
    labels = covered()
    labels[0:2, 10:20] = UNCOVERED
    labels[50:, 79] = UNCOVERED
    filled, share = rim_filled(labels, PIXEL)
    np.testing.assert_array_equal(filled, covered())
    assert share == 30 / labels.size


def test_what_no_tile_shows_farther_in_stays_bare() -> None:
    labels = covered()
    labels[20:30, 30:50] = UNCOVERED
    labels[0:12, 60:70] = UNCOVERED
    filled, _ = rim_filled(labels, PIXEL)
    assert (filled[20:30, 30:50] == UNCOVERED).all()
    # Four rows are rim, and all but the middle of them lie near a tile that is shown.
    assert (filled[4:12, 60:70] == UNCOVERED).all()
    assert (filled[0:4, 60:64] == 1).all()


def test_a_picture_nobody_shows_stays_bare() -> None:
    bare = np.full((9, 9), UNCOVERED, np.uint8)
    filled, share = rim_filled(bare, PIXEL)
    assert (filled == UNCOVERED).all()
    assert share == 0
