"""Whole scans: strips found in every one that has them and in none that has not.

A few dozen scenes; five hundred and more are measured by
``python -m tests.benchmarks.bench_finding``.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from colormatch.errors import LayoutError
from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.finding.poses import applied
from colormatch.finding.strips import find_strips
from colormatch.model import StripReading
from tests.benchmarks import bench_finding
from tests.finding import scenes

LAYOUTS = shipped_layouts()
REFERENCES = {name: shipped_reference(name) for name in LAYOUTS}


def _find(picture: scenes.Codes, ppi: float, **options: object) -> list[StripReading]:
    step = max(1, round(ppi / 75))
    stated = options.get("stated", (ppi, ppi))
    return find_strips(
        scenes.overview_of(picture, step),
        step,
        scenes.Windows(picture),
        (picture.shape[1], picture.shape[0]),
        tuple(LAYOUTS.values()),
        references=REFERENCES,
        ppi=stated,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("seed", [1, 2, 3, 5, 6, 9, 13, 14, 17, 37])
def test_strips_are_found_and_read(seed: int) -> None:
    result = bench_finding.run(seed)
    assert result.strips > 0
    assert (result.misses, result.false_finds) == (0, 0)
    assert max(result.centre_errors) < 0.05
    assert float(np.mean(result.patch_errors)) < 0.001
    assert max(result.patch_errors) < 0.01


@pytest.mark.parametrize("seed", [0, 4, 12, 16, 20])
def test_paintings_mirrored_strips_and_other_sheets_are_not(seed: int) -> None:
    result = bench_finding.run(seed)
    assert result.strips == 0
    assert result.false_finds == 0
    assert result.words


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("covered", [0, 3])
def test_turn_is_certain_with_a_mark_covered(turn: int, covered: int) -> None:
    layout = LAYOUTS["strip-short"]
    rng = np.random.default_rng(turn + covered)
    sheet = scenes.canvas(scenes.Scene(width=760, height=760, ppi=150), rng)
    px_from_mm = scenes.pose(layout, (380.2, 379.7), 150, turn - 7)
    scenes.lay_strip(sheet, layout, scenes.printed(REFERENCES[layout.name], rng), px_from_mm)
    mark = layout.marks[covered]
    scenes.cover(sheet, px_from_mm, (mark.x, mark.y), 4.0)
    (strip,) = _find(scenes.scanned(sheet), 150)
    assert strip.layout == layout
    assert set(strip.marks_px) == {other.id for other in layout.marks} - {mark.id}
    ends = np.array([[0, 0], [layout.width, layout.height]])
    away = applied(strip.px_from_mm, ends) - applied(px_from_mm, ends)
    assert np.abs(away).max() < 0.2


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("stretch", [(1.15, 1.0), (1.0, 1.15), (0.9, 1.0), (1.0, 1.2), (1.0, 0.83)])
def test_scan_stretched_one_way(turn: int, stretch: tuple[float, float]) -> None:
    layout = LAYOUTS["strip-short"]
    rng = np.random.default_rng(turn)
    sheet = scenes.canvas(scenes.Scene(width=800, height=800, ppi=150), rng)
    px_from_mm = scenes.pose(layout, (400.2, 399.7), 150, turn + 3, stretch)
    light = scenes.printed(REFERENCES[layout.name], rng)
    scenes.lay_strip(sheet, layout, light, px_from_mm)
    (strip,) = _find(scenes.scanned(sheet), 150)
    assert len(strip.marks_px) == len(layout.marks)
    ends = np.array([[0, 0], [layout.width, 0], [layout.width, layout.height]])
    away = applied(strip.px_from_mm, ends) - applied(px_from_mm, ends)
    assert np.abs(away).max() < 0.2
    # Pixels per inch along x and y, as the map's inverse measures them.
    mm_from_px = np.linalg.inv(strip.px_from_mm[:, :2])
    assert 25.4 / np.linalg.norm(mm_from_px, axis=0) == pytest.approx(
        150 * np.array(stretch), rel=0.003
    )
    exact = np.array([light[patch.id] for patch in layout.patches])
    fall = 1 - 0.1 * strip.centres[:, :1] / 799
    errors = np.abs(strip.rgb - np.clip(exact * fall, 0, 1) ** (1 / 2.0))
    assert np.median(errors) < 0.003


def test_wrong_or_missing_resolution_is_no_obstacle() -> None:
    layout = LAYOUTS["strip-short"]
    rng = np.random.default_rng(8)
    sheet = scenes.canvas(scenes.Scene(width=1300, height=700, ppi=300), rng)
    px_from_mm = scenes.pose(layout, (650, 350), 300, 3)
    scenes.lay_strip(sheet, layout, scenes.printed(REFERENCES[layout.name], rng), px_from_mm)
    picture = scenes.scanned(sheet)
    for stated in (None, 72.0, (600.0, 600.0), (1e9, 1e9), (0.0, 0.0)):
        assert len(_find(picture, 300, stated=stated)) == 1


def test_a_bent_print_shows_in_the_residual() -> None:
    layout = LAYOUTS["strip-short"]
    moved = dataclasses.replace(layout.marks[3], x=layout.marks[3].x + 0.2)
    bent = dataclasses.replace(layout, marks=(*layout.marks[:3], moved))
    residuals = []
    for drawn in (layout, bent):
        rng = np.random.default_rng(3)
        sheet = scenes.canvas(scenes.Scene(width=1300, height=700, ppi=300), rng)
        px_from_mm = scenes.pose(layout, (650, 350), 300, 3)
        scenes.lay_strip(sheet, drawn, scenes.printed(REFERENCES[layout.name], rng), px_from_mm)
        (strip,) = _find(scenes.scanned(sheet), 300)
        residuals.append(strip.marks_residual)
    assert residuals[0] < 0.02
    # 0.2 mm are 2.4 px; a plane fitted to four marks takes up most of one mark's error.
    assert residuals[1] > 0.3


def test_empty_pictures_hold_no_strip() -> None:
    for value in (0, 128, 255):
        assert _find(np.full((600, 500, 3), value, np.uint8), 150) == []


def test_refuses_marks_it_does_not_know() -> None:
    layout = LAYOUTS["strip-short"]
    odd = dataclasses.replace(
        layout, marks=tuple(dataclasses.replace(mark, kind="ring") for mark in layout.marks)
    )
    small = np.zeros((50, 50, 3), np.float32)
    windows = scenes.Windows(np.zeros((50, 50, 3), np.uint8))
    with pytest.raises(LayoutError, match="unknown kind 'ring'"):
        find_strips(small, 1, windows, (50, 50), (odd,), references=REFERENCES)
