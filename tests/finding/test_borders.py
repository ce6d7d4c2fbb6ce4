"""Borders between patches: which there are, and where a scan has them."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.finding.border_design import OPEN, borders_of
from colormatch.finding.borders import border_shifts, read_profiles
from colormatch.finding.lattice_fit import exact_pose
from colormatch.finding.poses import applied
from colormatch.finding.reading import Region
from colormatch.model import FloatArray, Layout
from tests.finding import charts, scenes

SIZE = (640, 300)
PPI = 150.0


def test_each_border_counts_once() -> None:
    borders = borders_of(charts.chart_layout(4, 12, gap=(1.0, 1.0)))
    inner = borders.gaps < OPEN
    assert (inner.sum(), (~inner).sum()) == (11 * 4 + 12 * 3, 2 * 12 + 2 * 4)
    assert borders.gaps[inner] == pytest.approx(1.0)
    # The first border to the right: between 10 and 11 mm, halfway down the first row.
    first = np.flatnonzero(inner & (borders.normals[:, 0] == 1))[0]
    assert borders.middles[first] == pytest.approx((10.5, 6.5))
    # Outside there is the rim of 3 mm, no more.
    assert borders.rooms[~inner].max() == pytest.approx(3.0)


def test_wide_gaps_are_two_borders() -> None:
    borders = borders_of(charts.chart_layout(2, 6, patch=(4.0, 4.0), gap=(6.0, 6.0)))
    assert (borders.gaps == OPEN).all()
    assert len(borders.gaps) == 4 * 12


def drawn(layout: Layout, *, blur: float, seed: int) -> tuple[scenes.Codes, FloatArray]:
    """Draw a chart at a slant, with a pose in pixels that is known exactly."""
    rng = np.random.default_rng(seed)
    scene = scenes.Scene(
        width=SIZE[0], height=SIZE[1], ppi=PPI, blur=blur, dust=8, hairs=0, gamma=1.8, bits=16
    )
    sheet = scenes.canvas(scene, rng)
    chart = charts.printed_chart(layout, rng)
    pose = scenes.pose(layout, (322.3, 148.8), PPI, 1.3, (1.002, 0.999))
    charts.lay_chart(sheet, layout, chart.light("white-led", "broad"), pose)
    return scenes.scanned(sheet), pose


@pytest.mark.parametrize("gap", [0.0, 0.25, 1.0, 5.0])
@pytest.mark.parametrize("blur", [0.5, 1.2, 1.8])
def test_places_are_exact_whatever_the_gap_and_the_blur(gap: float, blur: float) -> None:
    side = 7.0 if gap < 2 else 3.5
    layout = charts.chart_layout(4, 12, patch=(side, side), gap=(gap, gap), ground="grey")
    picture, pose = drawn(layout, blur=blur, seed=round(10 * gap))
    region = Region(scenes.Windows(picture), SIZE, np.zeros(2), np.array(SIZE) - 1.0)
    off = pose.copy()
    off[:, 2] += (6.0, -5.0)
    exact = exact_pose(region, off, borders_of(layout), side, 1.8)
    assert exact is not None
    middles = charts.centres(layout)
    away = np.linalg.norm(applied(exact.px_from_mm, middles) - applied(pose, middles), axis=1)
    # Between patches that touch the scenes leave a hairline of the ground, a quarter of a
    # pixel of it, as prints do; it moves the borders of neighbours of nearly one colour.
    assert away.max() < (0.12 if gap else 0.25)
    assert exact.share > 0.9


def test_a_side_outside_the_scan_is_not_seen() -> None:
    layout = charts.chart_layout(4, 12)
    picture, pose = drawn(layout, blur=0.7, seed=1)
    moved = pose.copy()
    moved[:, 2] += (-60.0, 0.0)
    region = Region(scenes.Windows(picture), SIZE, np.zeros(2), np.array(SIZE) - 1.0)
    profiles = read_profiles(region, moved, borders_of(layout), 0.5, 2.2)
    shifts = border_shifts(profiles, borders_of(layout), 0.8)
    assert np.isinf(shifts.sigma).any()


def test_a_plain_picture_has_no_borders() -> None:
    layout = charts.chart_layout(4, 12)
    picture = np.full((SIZE[1], SIZE[0], 3), 120, np.uint8)
    region = Region(scenes.Windows(picture), SIZE, np.zeros(2), np.array(SIZE) - 1.0)
    pose = scenes.pose(layout, (320, 150), PPI, 0.0)
    assert exact_pose(region, pose, borders_of(layout), 7.0, 2.2) is None
