"""Figures and sentences for the report."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.colour.spaces import rgb_space
from colormatch.levelling.judging import level_report
from colormatch.levelling.records import LevelReport
from tests.levelling.cases import (
    FROM,
    Levelled,
    edge_shadow,
    even_pair,
    level,
    pair_without_strip,
    sheet,
    two_views,
    uneven_pair,
)
from tests.levelling.scenes import Array, View, dark, scan_scene


def report(result: Levelled) -> LevelReport:
    matrix = rgb_space("oprgb").xyz_from_rgb
    return level_report(result.levels, result.scene.tiles, result.pairs, result.gains, matrix)


def test_overlaps_are_more_even_after() -> None:
    found = report(level(uneven_pair(1, shadow=edge_shadow(0.22, 10.0))))
    (pair,) = found.pairs
    assert pair.agreeing.p95_percent < pair.after.p95_percent
    assert pair.agreeing.mean_percent < 0.5 * pair.before.mean_percent
    assert pair.agreeing.mean_de < 0.5 * pair.before.mean_de
    assert 0.2 < pair.left_out < 0.6
    # The shadow itself is still there to be seen: it is no light of the scanner's.
    assert np.abs(pair.remaining[~pair.trusted]).max() > 0.15


def test_a_known_step_is_told_in_percent_and_delta_e() -> None:
    views = two_views(strip=None)
    views[0] = replace(views[0], gain=(1.0, 1.0, 1.0))
    views[1] = replace(views[1], gain=(0.98, 0.98, 0.98))
    result = level(scan_scene(np.random.default_rng(2), (320.0, 178.0), views, dark))
    (pair,) = report(result).pairs
    assert pair.before.mean_percent == pytest.approx(2.04, abs=0.1)
    # 2 % of light are about 0.44 CIEDE2000 at L* 50 to 90 and less in darks (computed).
    assert 0.2 < pair.before.mean_de < 0.5
    assert pair.after.mean_percent < 0.5


def test_each_term_is_told_apart() -> None:
    found = report(level(uneven_pair(2)))
    for tile in found.tiles:
        assert 3.0 < tile.profile_percent < 7.0
        assert tile.blank_percent == 0.0
        assert tile.tied_to == "strip"
        assert 0.1 < tile.level_sigma_percent <= tile.largest_sigma_percent
    with_blank = report(level(uneven_pair(2), sheet(5)))
    assert all(t.blank_percent > 4.0 and t.profile_percent < 1.0 for t in with_blank.tiles)


def test_unseen_ramps_are_told_unless_a_blank_sheet_shows_them() -> None:
    lamp = report(level(uneven_pair(1, strip="lamp"))).assumptions
    assert any("carriage's way in all tiles alike cannot be seen" in s for s in lamp)
    assert not any("end of the lamp" in s for s in lamp)
    blank = report(level(uneven_pair(1, strip="lamp"), sheet(5))).assumptions
    assert not any("cannot be seen" in s for s in blank)


def test_a_missing_strip_is_told_with_its_uncertainty() -> None:
    found = report(level(pair_without_strip(1)))
    assert [t.tied_to for t in found.tiles] == ["strip", "neighbours"]
    (sentence,) = (s for s in found.assumptions if "tile1" in s)
    assert f"±{found.tiles[1].level_sigma_percent:.1f} % of light" in sentence
    assert found.tiles[1].level_sigma_percent > found.tiles[0].level_sigma_percent


def test_tiles_that_nothing_ties_are_told() -> None:
    rng = np.random.default_rng(3)
    views = [*two_views(), View(at=(-400.0, 40.0)), View(at=(-640.0, 40.0), strip=None)]
    found = report(level(scan_scene(rng, (800.0, 120.0), views)))
    assert [t.tied_to for t in found.tiles] == ["strip", "strip", "strip", "nothing"]
    assert any(s.startswith("tile2 shares too little") for s in found.assumptions)
    assert any(s.startswith("tile3 has no strip and no overlap") for s in found.assumptions)


def test_an_overlap_mostly_left_out_is_told() -> None:
    found = report(level(uneven_pair(1, shadow=edge_shadow(0.31, 20.0))))
    assert any("of the overlap of tile0 and tile1 differs locally" in s for s in found.assumptions)
    clean = report(level(even_pair(1)))
    assert not any("differs locally" in s for s in clean.assumptions)


def test_a_lifted_rim_that_looks_like_fall_off_is_doubted() -> None:
    def lifted(x: Array, y: Array) -> Array:
        return np.asarray(0.07 * np.clip(1 - (x - FROM) / 34.0, 0, 1) * (x >= FROM) + 0.0 * y)

    found = report(level(uneven_pair(1, strip="way", shadow=lifted)))
    assert any("along the lamp, more than most scanners' does" in s for s in found.assumptions)
    usual = report(level(uneven_pair(1, strip="way")))
    assert not any("more than most" in s for s in usual.assumptions)
