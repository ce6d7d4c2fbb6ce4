"""Charts without marks: found in every turn, exactly; nothing else taken for them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from colormatch.finding.grids import Search, find_chart
from colormatch.finding.poses import applied
from colormatch.model import FloatArray, Layout
from tests.finding import charts, scenes

PPI = 150.0
SIZE = (900, 820)


@dataclass(frozen=True, kw_only=True, eq=False)
class Laid:
    """A scan with a chart in it."""

    picture: scenes.Codes
    chart: charts.Chart
    px_from_mm: FloatArray

    def search(self, *, chart: charts.Chart | None = None, ppi: float | None = PPI) -> Search:
        """Look for its own chart, or for another."""
        own = chart or self.chart
        return find_chart(
            scenes.overview_of(self.picture, 2),
            2,
            scenes.Windows(self.picture),
            (self.picture.shape[1], self.picture.shape[0]),
            own.layout,
            own.reference,
            ppi=ppi,
        )

    def away(self, search: Search) -> FloatArray:
        """Distances of the patches found from the true ones, pixels."""
        assert search.strip is not None, search.reason
        truth = applied(self.px_from_mm, charts.centres(self.chart.layout))
        away: FloatArray = np.linalg.norm(search.strip.centres - truth, axis=1)
        return away


def laid(
    layout: Layout,
    *,
    seed: int = 0,
    degrees: float = 0.0,
    lamp: str = "white-led",
    gain: float = 0.8,
    twins: int = 0,
    mirrored: bool = False,
    scene: scenes.Scene | None = None,
) -> Laid:
    """Lay a chart into the middle of a painting, and scan it."""
    rng = np.random.default_rng(seed)
    scene = scene or scenes.Scene(width=SIZE[0], height=SIZE[1], ppi=PPI, hairs=2, dust=25)
    sheet = scenes.canvas(scene, rng)
    chart = charts.printed_chart(layout, rng, twins=twins)
    pose = scenes.pose(layout, (scene.width / 2 + 20, scene.height / 2 - 9), scene.ppi, degrees)
    if mirrored:
        pose = pose @ np.array([[-1, 0, layout.width], [0, 1, 0], [0, 0, 1.0]])
    charts.lay_chart(sheet, layout, chart.light(lamp, "broad"), pose)
    return Laid(picture=scenes.scanned(sheet, gain), chart=chart, px_from_mm=pose)


@pytest.mark.parametrize("degrees", [0.0, 92.5, 176.0, 275.0])
@pytest.mark.parametrize(
    ("gap", "ground"), [(1.0, "black"), (1.0, "white"), (0.0, "white"), (0.3, "grey")]
)
def test_every_turn_with_gaps_and_without(degrees: float, gap: float, ground: str) -> None:
    layout = charts.chart_layout(gap=(gap, gap), ground=ground)
    case = laid(layout, seed=int(degrees) + 7, degrees=degrees, twins=5)
    found = case.search()
    assert case.away(found).max() < 0.25
    assert found.strip is not None
    assert found.strip.marks_px == {}
    assert found.strip.usable.mean() > 0.85


@pytest.mark.parametrize("lamp", ["fluorescent", "three-led"])
@pytest.mark.parametrize("gain", [0.45, 1.8])
def test_cast_and_exposure_do_not_matter(lamp: str, gain: float) -> None:
    # A stop less than a right exposure, and a stop more: a third of the patches clipped.
    case = laid(charts.chart_layout(), seed=3, degrees=-3.0, lamp=lamp, gain=gain)
    assert case.away(case.search()).max() < 0.25


@pytest.mark.parametrize(("rows", "columns"), [(6, 8), (7, 7), (3, 20), (2, 12)])
def test_other_shapes(rows: int, columns: int) -> None:
    layout = charts.chart_layout(rows, columns, patch=(5.0, 5.0))
    case = laid(layout, seed=rows, degrees=181.0)
    assert case.away(case.search()).max() < 0.25


@pytest.mark.parametrize("ppi", [None, 72.0, 300.0])
def test_a_missing_or_wrong_resolution_is_overcome(ppi: float | None) -> None:
    case = laid(charts.chart_layout(), seed=5, degrees=88.0)
    assert case.away(case.search(ppi=ppi)).max() < 0.25


def test_covered_patches_are_not_used() -> None:
    case = laid(charts.chart_layout(), seed=6)
    rng = np.random.default_rng(0)
    scene = scenes.Scene(width=SIZE[0], height=SIZE[1], ppi=PPI)
    scrap = scenes.Canvas(scene=scene, light=case.picture / np.float32(255), rng=rng)
    scenes.cover(scrap, case.px_from_mm, (15.0, 15.0), 8.0)
    codes = np.round(scrap.light * 255).astype(np.uint8)
    case = replace(case, picture=codes)
    found = case.search()
    assert case.away(found).max() < 0.3
    assert found.strip is not None
    middles = charts.centres(case.chart.layout)
    hidden = np.abs(middles - 15.0).max(axis=1) < 4.0
    assert not found.strip.usable[hidden].any()


def test_a_mirrored_scan_is_named() -> None:
    case = laid(charts.chart_layout(), seed=8, mirrored=True)
    found = case.search()
    assert found.strip is None
    assert "seen in mirror image: turn off mirroring" in found.reason


@pytest.mark.parametrize("seed", range(6))
def test_other_charts_and_other_orders_are_not_taken_for_it(seed: int) -> None:
    layout = charts.chart_layout()
    case = laid(layout, seed=seed, degrees=90.0 * seed)
    other = charts.printed_chart(layout, np.random.default_rng(100 + seed))
    order = np.random.default_rng(seed).permutation(48)
    mixed = replace(case.chart.reference, xyz=case.chart.reference.xyz[order])
    for wanted in (other, replace(case.chart, reference=mixed)):
        found = case.search(chart=wanted)
        assert found.strip is None
        assert "was not found" in found.reason
        assert "--corners" in found.reason


@pytest.mark.parametrize("seed", range(4))
def test_paintings_full_of_squares_are_not_taken_for_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    layout = charts.chart_layout()
    sheet = scenes.canvas(scenes.Scene(width=SIZE[0], height=SIZE[1], ppi=PPI), rng)
    charts.paint_squares(sheet, layout, rng)
    chart = charts.printed_chart(layout, rng)
    case = Laid(picture=scenes.scanned(sheet), chart=chart, px_from_mm=np.eye(2, 3))
    assert case.search().strip is None


def test_sixteen_bits_and_coarse_scans() -> None:
    scene = scenes.Scene(width=420, height=400, ppi=75.0, bits=16, dust=10, hairs=1)
    layout = charts.chart_layout()
    rng = np.random.default_rng(1)
    sheet = scenes.canvas(scene, rng)
    chart = charts.printed_chart(layout, rng)
    pose = scenes.pose(layout, (210, 200), 75.0, 272.0)
    charts.lay_chart(sheet, layout, chart.light("white-led", "steep"), pose)
    picture = scenes.scanned(sheet)
    windows = scenes.Windows(picture)
    small = scenes.overview_of(picture, 1)
    found = find_chart(small, 1, windows, (420, 400), layout, chart.reference, ppi=75.0)
    assert found.strip is not None
    truth = applied(pose, charts.centres(layout))
    assert np.linalg.norm(found.strip.centres - truth, axis=1).max() < 0.15


def test_only_the_chart_is_read_at_full_resolution() -> None:
    case = laid(charts.chart_layout(), seed=2)
    windows = scenes.Windows(case.picture)
    small = scenes.overview_of(case.picture, 2)
    size = (case.picture.shape[1], case.picture.shape[0])
    find_chart(small, 2, windows, size, case.chart.layout, case.chart.reference, ppi=PPI)
    assert windows.pixels < 0.5 * size[0] * size[1]
