"""Outlines of findings on the scan in small: numbered, seen, inside the picture."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from colormatch.reporting.page import html_page
from colormatch.reporting.place_drawings import LEAST, numbers, outlined
from colormatch.verdict import Advice
from colormatch.views import TileView, Views
from tests.reporting.records import finding, report, tile

SIZE = (360, 400)
PLACED = finding(Advice.CARE, places=((10.0, 20.0, 30.0, 40.0),))
SPECK = finding(Advice.USE, places=((0.0, 0.0, 0.1, 0.1), (99.9, 110.0, 0.2, 200.0)))
NOWHERE = finding(Advice.RESCAN)


def rects(parts: list[str], kind: str) -> list[tuple[float, ...]]:
    found = [p for p in parts if f'class="{kind}"' in p and p.startswith("<rect")]
    return [
        tuple(float(re.findall(rf' {k}="([-\d.]+)"', p)[0]) for k in ("x", "y", "width", "height"))
        for p in found
    ]


def test_only_findings_with_places_are_numbered() -> None:
    assert numbers([NOWHERE, PLACED, SPECK]) == [None, 1, 2]


def test_a_box_is_drawn_where_it_lies() -> None:
    (box,) = rects([str(p) for p in outlined([PLACED], (3.6, 3.6), SIZE)], "place")
    x, y, width, height = box
    assert x <= 36 <= x + 4
    assert y <= 72 <= y + 4
    assert (width, height) == (30 * 3.6 + 4, 40 * 3.6 + 4)


def test_a_speck_can_be_seen_and_nothing_leaves_the_picture() -> None:
    boxes = rects([str(p) for p in outlined([SPECK], (3.6, 3.6), SIZE)], "place")
    assert len(boxes) == 2
    for x, y, width, height in boxes:
        assert 0 <= x <= x + width <= SIZE[0]
        assert 0 <= y <= y + height <= SIZE[1]
        assert min(width, height) >= LEAST


def test_the_legend_has_the_numbers_of_the_picture() -> None:
    view = TileView(thumbnail=np.zeros((400, 360, 3), np.uint8), per_mm=(3.6, 3.6))
    one = tile(findings=(NOWHERE, PLACED, SPECK))
    text = html_page(replace(report(one), views=Views(tiles={one.scan: view})))
    assert re.findall(r'class="numbered"[^>]*>(\d)<', text) == ["1", "2"]
    assert re.findall(r'class="number"[^>]*>(\d)<', text) == ["1", "2", "2"]
    assert "Numbered outlines" in text


def test_without_a_scale_nothing_is_drawn() -> None:
    view = TileView(thumbnail=np.zeros((400, 360, 3), np.uint8))
    one = tile(findings=(PLACED,))
    text = html_page(replace(report(one), views=Views(tiles={one.scan: view})))
    assert 'class="place"' not in text
