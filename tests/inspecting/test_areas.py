"""Connected areas and their boxes."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.inspecting.areas import areas, gathered


def test_boxes_are_in_millimetres_and_largest_first() -> None:
    mask = np.zeros((40, 50), bool)
    mask[3:5, 7:10] = True
    mask[20:30, 30:45] = True
    found = areas(mask)
    assert found.sizes.tolist() == [150, 6]
    assert found.places((0.5, 0.25))[0] == pytest.approx((15.0, 5.0, 7.5, 2.5))
    np.testing.assert_array_equal(found.mask, mask)


def test_neighbours_are_drawn_as_one() -> None:
    mask = np.zeros((40, 50), bool)
    mask[10, 10] = mask[10, 14] = mask[30, 40] = True
    assert len(gathered(areas(mask), 4).sizes) == 2


def test_nothing_gives_nothing() -> None:
    assert areas(np.zeros((5, 5), bool)).places((1.0, 1.0)) == ()
