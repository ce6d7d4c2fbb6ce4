"""The thumbnail with what was found on it, and the strip enlarged."""

from __future__ import annotations

import numpy as np

from colormatch.reporting.pictures import hex_from_lab
from colormatch.reporting.strip_drawings import strip_enlarged, thumbnail
from colormatch.views import StripView, TileView
from tests.reporting.reading import drawn
from tests.reporting.records import patches

VIEW = StripView(
    outline=((10, 80), (90, 80), (90, 95), (10, 95)),
    marks=(((15.0, 87.0), 3.0, True), ((85.0, 87.0), 3.0, False)),
    patches=(
        ((20, 82), (30, 82), (30, 92), (20, 92)),
        ((40, 82), (50, 82), (50, 92), (40, 92)),
        ((60, 82), (70, 82), (70, 92), (60, 92)),
    ),
    usable=(True, True, False),
    size=(80.0, 15.0),
    boxes=(
        ("A01", 10.0, 2.0, 10.0, 10.0),
        ("B01", 30.0, 2.0, 10.0, 10.0),
        ("C01", 50.0, 2.0, 10.0, 10.0),
    ),
    fields=(("white", 0.0, 0.0, 20.0, 15.0),),
)


def test_outline_marks_and_patches_lie_on_the_thumbnail() -> None:
    picture = np.full((100, 120, 3), 200, np.uint8)
    root = drawn(thumbnail(TileView(thumbnail=picture, strips=(VIEW,)), "<b>.tif"))
    assert root.get("viewBox") == "0 0 120 100"
    outlines = [e for e in root if e.get("points") == "10,80 90,80 90,95 10,95"]
    assert {e.get("class") for e in outlines} == {"halo", "found"}
    circles = [e.get("class") for e in root if e.tag == "circle"]
    assert circles == ["halo", "found", "halo", "found unseen"]
    assert sum(e.get("class") == "patch" for e in root) == 3
    # The one that was not used is struck out, from corner to corner.
    struck = [e for e in root if e.get("class") == "struck"]
    assert [(e.get("x1"), e.get("x2")) for e in struck] == [("60", "70"), ("70", "60")]


def test_a_thumbnail_without_a_strip_says_so() -> None:
    root = drawn(thumbnail(TileView(thumbnail=np.zeros((9, 9, 3), np.uint8)), "a.tif"))
    assert "no strip was found" in (root.get("aria-label") or "")


def test_wanted_is_left_and_scanned_is_right_in_each_patch() -> None:
    root = drawn(strip_enlarged(VIEW, patches()))
    first = patches()[0]
    assert first.scanned is not None
    halves = {e.get("x"): e.get("fill") for e in root if e.get("width") == "30"}
    assert halves["60"] == hex_from_lab(first.wanted)
    assert halves["90"] == hex_from_lab(first.scanned)
    titles = [e.text for e in root.iter("title")]
    assert titles == ["A01: ΔE2000 1.10", "B01: ΔE2000 0.30", "C01: covered"]
