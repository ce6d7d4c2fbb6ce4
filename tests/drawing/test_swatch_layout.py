"""The sheet for own paints: it fits, it is no strip, and no turn of it looks like another."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from colormatch.drawing.swatch_layout import FEWEST, MOST, swatch_layout, whole_sheets
from colormatch.files.layouts import layout_text, parse_layout, shipped_layouts
from colormatch.model import Layout

A4_GLASS = (216.0, 297.0)
"""An A4 flatbed's glass, mm: ISO 216 and a little room (common practice, no source)."""


@pytest.mark.parametrize("boxes", range(FEWEST, MOST + 1))
def test_a_sheet_is_a_valid_layout_that_lies_on_the_glass_with_the_strip(boxes: int) -> None:
    layout = swatch_layout(boxes)
    assert parse_layout(layout_text(layout).encode(), "sheet") == layout
    assert len(layout.patches) == boxes
    strip = shipped_layouts()["strip-long"]
    assert layout.height + strip.height + 10 < A4_GLASS[1]
    assert max(layout.width, strip.width) < A4_GLASS[0]


@pytest.mark.parametrize("boxes", [0, 5, 61, -1])
def test_other_numbers_are_refused(boxes: int) -> None:
    with pytest.raises(ValueError, match="6 to 60"):
        swatch_layout(boxes)


@pytest.mark.parametrize("boxes", [6, 9, 10, 24, 54, 55, 60])
def test_every_sheet_is_part_of_one_whole_sheet_by_its_marks(boxes: int) -> None:
    layout = swatch_layout(boxes)
    (whole,) = [sheet for sheet in whole_sheets() if sheet.marks == layout.marks]
    assert whole.patches[:boxes] == layout.patches


def places(layout: Layout) -> list[tuple[str, complex]]:
    return [(mark.kind, complex(mark.x, mark.y)) for mark in layout.marks]


def furthest(one: Layout, other: Layout) -> float:
    """Least over all turns and shifts of the largest distance between marks of one kind, mm."""
    best = np.inf
    for (kind_a, a), (kind_b, b) in product(places(one), places(other)):
        for turn in (1, 1j, -1, -1j):
            if kind_a == kind_b and not (one is other and turn == 1):
                best = min(best, off(places(one), places(other), turn, b - turn * a))
    return float(best)


def off(
    one: list[tuple[str, complex]], other: list[tuple[str, complex]], turn: complex, shift: complex
) -> float:
    away = sorted(
        min((abs(turn * p + shift - q) for kind_q, q in other if kind_q == kind), default=np.inf)
        for kind, p in one
    )
    # One mark may be covered, so three that fit would do.
    return float(away[2])


@pytest.mark.parametrize("sheet", whole_sheets(), ids=lambda s: s.name)
def test_no_turn_of_the_sheet_looks_like_another_nor_like_a_strip(sheet: Layout) -> None:
    # A mark may be found 0.22 of 7 mm beside its place: see finding/poses.py.
    assert furthest(sheet, sheet) > 2.0
    for strip in shipped_layouts().values():
        if {m.kind for m in strip.marks} and len(strip.marks) == 4:
            assert furthest(sheet, strip) > 2.0
