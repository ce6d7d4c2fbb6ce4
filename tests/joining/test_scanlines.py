"""Labels of windows: the grid's own where curves are its staircase, and always consistent."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colormatch.joining.curves import MARGIN, _chains, continued
from colormatch.joining.scanlines import crossings, inside_in, labels_in, repaired
from colormatch.model import Window

STEP = 4


def staircase(labels: np.ndarray) -> list[tuple[np.ndarray, int, int]]:
    return [
        ((corners[:, ::-1] - MARGIN) * float(STEP) - 0.5, plus, minus)
        for corners, plus, minus in _chains(continued(labels))
    ]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.integers(2, 4), st.integers(2, 24), st.integers(2, 24))
def test_the_staircase_gives_back_the_grid(seed: int, kinds: int, height: int, width: int) -> None:
    rng = np.random.default_rng(seed)
    labels = rng.choice(np.array([0, 1, 2, 255], np.uint8)[:kinds], (height, width))
    table = crossings(staircase(labels), height * STEP)
    begin = np.repeat(labels[:, 0], STEP)
    whole = labels_in(
        Window(row=0, column=0, height=height * STEP, width=width * STEP), table, begin
    )
    expected = labels.repeat(STEP, axis=0).repeat(STEP, axis=1)
    assert (whole == expected).all()
    row, column = rng.integers(0, height * STEP - 1), rng.integers(0, width * STEP - 1)
    window = Window(row=int(row), column=int(column), height=1, width=int(width * STEP - column))
    assert (labels_in(window, table, begin) == expected[row : row + 1, column:]).all()


def test_a_window_needs_no_curves() -> None:
    table = crossings([], 10)
    begin = np.full(10, 3, np.uint8)
    assert (labels_in(Window(row=2, column=5, height=4, width=6), table, begin) == 3).all()


def test_inside_a_polygon_is_where_opencv_says() -> None:
    rng = np.random.default_rng(1)
    polygon = rng.uniform(5, 95, (7, 2))
    table = crossings([(np.concatenate([polygon, polygon[:1]]), 1, 1)], 100)
    inside = inside_in(Window(row=0, column=0, height=100, width=100), table)
    mask = np.zeros((100, 100), np.uint8)
    cv2.fillPoly(mask, [np.round(polygon * 256).astype(np.int32)], 1, shift=8)
    # OpenCV also fills pixels that the outline only touches.
    assert not (inside & (mask == 0)).any()
    assert inside[cv2.erode(mask, np.ones((3, 3), np.uint8)) > 0].all()
    part = inside_in(Window(row=30, column=40, height=20, width=33), table)
    assert (part == inside[30:50, 40:73]).all()


@pytest.mark.parametrize("turn", [1, -1])
def test_a_slanted_line_parts_pixels_at_their_centres(turn: int) -> None:
    line = np.array([[10.3, -50.0], [110.3, 150.0]])[::turn]
    plus, minus = (1, 0)[::turn]
    table = crossings([(line, plus, minus)], 100)
    labels = labels_in(
        Window(row=0, column=0, height=100, width=120), table, np.zeros(100, np.uint8)
    )
    rows, columns = np.mgrid[:100, :120]
    right = columns >= 10.3 + (rows + 50) / 2
    assert (labels == right).all()


def test_rows_in_which_lines_cross_are_taken_from_the_safe_table() -> None:
    """Label 1 between two lines that swap places half-way down: it would run on to the right."""
    begin = end = np.zeros(100, np.uint8)
    safe = [
        (np.array([[20.2, -5.0], [20.2, 105.0]]), 1, 0),
        (np.array([[40.2, -5.0], [40.2, 105.0]]), 0, 1),
    ]
    crossed = [
        (np.array([[20.2, -5.0], [60.2, 105.0]]), 1, 0),
        (np.array([[40.2, -5.0], [35.2, 105.0]]), 0, 1),
    ]
    table = repaired(crossings(crossed, 100), crossings(safe, 100), begin, end)
    labels = labels_in(Window(row=0, column=0, height=100, width=120), table, begin)
    assert (labels[:, 70:] == 0).all()
    # Where the lines have not met yet they are followed.
    assert np.argmax(labels[10]) == np.ceil(20.2 + 15 / 110 * 40)
    assert (labels[80, 21:41] == 1).all()
    assert labels[80].sum() == 20


def test_a_row_that_ends_with_the_wrong_label_is_taken_from_the_safe_table() -> None:
    begin = end = np.zeros(20, np.uint8)
    lost = [(np.array([[5.2, -5.0], [5.2, 25.0]]), 1, 0)]
    table = repaired(crossings(lost, 20), crossings([], 20), begin, end)
    assert (labels_in(Window(row=0, column=0, height=20, width=30), table, begin) == 0).all()
