"""Why no strip was found: each cause in its own words."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.finding.missing import explain_missing
from colormatch.model import FloatArray
from tests.finding import scenes

LAYOUTS = shipped_layouts()
WIDTH, HEIGHT, PPI, STEP = 1240, 800, 150, 2


def _picture(
    centre: tuple[float, float] | None,
    *,
    covers: tuple[tuple[float, float], ...] = (),
    mirror: bool = False,
    shuffled: bool = False,
    painting: str = "mixed",
) -> FloatArray:
    rng = np.random.default_rng(5)
    layout = LAYOUTS["strip-long"]
    sheet = scenes.canvas(scenes.Scene(width=WIDTH, height=HEIGHT, ppi=PPI, painting=painting), rng)
    if centre is not None:
        px_from_mm = scenes.pose(layout, centre, PPI, 4)
        if mirror:
            px_from_mm = px_from_mm @ np.array([[-1, 0, layout.width], [0, 1, 0], [0, 0, 1.0]])
        light = scenes.printed(shipped_reference(layout.name), rng)
        if shuffled:
            values = [list(light.values())[k] for k in rng.permutation(len(light))]
            light = dict(zip(light, values, strict=True))
        scenes.lay_strip(sheet, layout, light, px_from_mm)
        for place in covers:
            scenes.cover(sheet, px_from_mm, place, 4.0)
    return scenes.overview_of(scenes.scanned(sheet), STEP)


def _words(picture: FloatArray) -> str:
    layouts = tuple(LAYOUTS.values())
    return explain_missing(picture, STEP, (WIDTH, HEIGHT), layouts, ppi=(PPI, PPI))


@pytest.mark.parametrize("painting", ["mixed", "rings"])
def test_no_strip(painting: str) -> None:
    words = _words(_picture(None, painting=painting))
    assert words.startswith("no strip was found: lay the printed strip")


@pytest.mark.parametrize("centre", [(1240.0, 400.0), (-20.0, 400.0), (850.0, 400.0)])
def test_half_a_strip(centre: tuple[float, float]) -> None:
    words = _words(_picture(centre))
    assert words.startswith("2 of 4 marks of a strip are seen near ")
    assert "outside the picture" in words


def test_says_where_the_half_is() -> None:
    words = _words(_picture((1240.0, 400.0)))
    # The left marks' middle is 85.75 mm left of the strip's, which lies at 210.0, 67.7 mm.
    x, y = (float(part) for part in words.split("near ")[1].split(" mm")[0].split(", "))
    turn = np.deg2rad(4)
    assert x == pytest.approx(210.0 - 85.75 * np.cos(turn), abs=1)
    assert y == pytest.approx(67.7 - 85.75 * np.sin(turn), abs=1)


@pytest.mark.parametrize("hidden", [(0, 2), (0, 1), (1, 3)])
def test_two_marks_covered(hidden: tuple[int, int]) -> None:
    marks = [LAYOUTS["strip-long"].marks[i] for i in hidden]
    words = _words(_picture((620.0, 400.0), covers=tuple((mark.x, mark.y) for mark in marks)))
    assert words.startswith("2 of 4 marks of a strip are seen near ")
    assert "covered" in words


@pytest.mark.parametrize("low", [True, False])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_strip_half_under_the_painting(low: bool, seed: int) -> None:
    rng = np.random.default_rng(seed)
    layout = LAYOUTS["strip-long"]
    sheet = scenes.canvas(scenes.Scene(width=WIDTH, height=HEIGHT, ppi=PPI), rng)
    painted = sheet.light.copy()
    px_from_mm = scenes.pose(layout, (620.0, 400.0), PPI, 0)
    light = scenes.printed(shipped_reference(layout.name), rng)
    scenes.lay_strip(sheet, layout, light, px_from_mm)
    # 13 of 22 mm: one long row of patches and a mark at each end stay in sight.
    edge = round(400 + (2 if low else -2) * PPI / 25.4)
    over = slice(None, edge) if low else slice(edge, None)
    sheet.light[over] = painted[over]
    words = _words(scenes.overview_of(scenes.scanned(sheet), STEP))
    assert words.startswith("2 of 4 marks of a strip are seen near ")
    assert "covered" in words


def test_mirror_image() -> None:
    assert "mirror image" in _words(_picture((620.0, 400.0), mirror=True))


def test_another_sheet() -> None:
    words = _words(_picture((620.0, 400.0), shuffled=True))
    assert words.startswith("4 of 4 marks")
    assert "do not have the colours of strip-long" in words
