"""Targets without marks, through whole jobs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz, rgb_space
from colormatch.errors import LayoutError, ReferenceFileError
from colormatch.files.layouts import shipped_layouts
from colormatch.files.references import match_reference, read_reference
from colormatch.job.charts import named_layout
from colormatch.job.checking import check
from colormatch.job.matching import match
from colormatch.job.merging import merge
from colormatch.job.options import CheckOptions, MatchOptions, MergeOptions, TransferOptions
from colormatch.job.transfer import transfer
from colormatch.model import FloatArray
from demo.strip import shipped_strip, true_reference
from tests.job.chart_scans import LAYOUT, ChartScans, chart_scans

PPI = 90.0


@pytest.fixture(scope="module")
def scanned(tmp_path_factory: pytest.TempPathFactory) -> ChartScans:
    return chart_scans(tmp_path_factory.mktemp("charts"), ppi=PPI)


def options(scanned: ChartScans, *corners: str) -> CheckOptions:
    return CheckOptions(layout=scanned.layout, reference=scanned.reference, corners=corners)


def true_corners(scanned: ChartScans, tile: int, *, first: int = 0) -> str:
    """Write the chart's outer patch corners as a user would, whole pixels."""
    mm = np.array([[3.0, 3.0], [98.0, 3.0], [98.0, 34.0], [3.0, 34.0]])
    px = scanned.results[tile].strips[0].map.px_from_sheet(mm)
    return " ".join(f"{x:.0f},{y:.0f}" for x, y in np.roll(px, -first, axis=0))


def test_check_finds_the_chart_and_says_what_is_assumed(scanned: ChartScans) -> None:
    report = check(scanned.scans, options(scanned))
    for tile, truth in zip(report.tiles, scanned.results, strict=True):
        assert not tile.error
        assert tile.colour is not None
        assert tile.colour.left_out.mean < 1.0
        assert (tile.strips[0].marks, tile.strips[0].patches) == (0, 48)
        assert tile.strips[0].patches_used >= 44
        middle = truth.strips[0].map.px_from_sheet(np.array([50.5, 18.5]))
        # The carriage swings: its millimetres are those of the chart's own place.
        place = np.array([tile.strips[0].x, tile.strips[0].y]) * tile.strips[0].ppi / 25.4
        assert place == pytest.approx(middle, abs=0.2)
    assert report.agreement is not None
    assert report.agreement < 0.3
    assumed = " ".join(report.assumed)
    assert "does not say which patches of plain are neutral" in assumed
    assert "no dark patch printed both on white and on black" in assumed


def test_match_brings_both_tiles_to_the_true_colour(scanned: ChartScans, tmp_path: Path) -> None:
    chosen = MatchOptions(layout=scanned.layout, reference=scanned.reference, out=tmp_path / "out")
    report = match(scanned.scans, chosen)
    assert not report.failed
    space = rgb_space("srgb")
    for path, truth in zip(scanned.scans, scanned.results, strict=True):
        codes = tifffile.imread(tmp_path / "out" / path.name) / 65535
        xyz = space.decode(codes) @ space.xyz_from_rgb.T
        inside = truth.painting & _held(truth.xyz @ space.rgb_from_xyz.T)
        errors = delta_e_2000(lab_from_xyz(xyz[inside]), lab_from_xyz(truth.xyz[inside]))
        # Relief and noise of single pixels are in it.
        assert np.median(errors) < 2.5


def _held(rgb: FloatArray) -> np.ndarray:
    return np.asarray((rgb > 0).all(axis=-1) & (rgb < 1).all(axis=-1))


def test_merge_works_without_marks(scanned: ChartScans, tmp_path: Path) -> None:
    chosen = MergeOptions(
        layout=scanned.layout,
        reference=scanned.reference,
        out=tmp_path / "painting.tif",
        format="tiff",
        report=tmp_path / "report",
    )
    report = merge(scanned.scans, chosen)
    assert not report.failed
    assert report.merged is not None
    assert report.merged.placing_rms < 0.15
    # The painting's own 240 x 150 mm without its bare border; no chart in it.
    assert report.merged.size == pytest.approx((220.0, 130.0), abs=2.5)
    page = (tmp_path / "report" / "report.html").read_text(encoding="utf-8")
    assert "no marks, 48 of 48 patches" in page


def test_corners_serve_where_the_chart_is_not_found(scanned: ChartScans) -> None:
    given = [f"tile-{number + 1}.tif={true_corners(scanned, number)}" for number in range(2)]
    pointed = check(scanned.scans, options(scanned, *given))
    found = check(scanned.scans, options(scanned))
    for one, other in zip(pointed.tiles, found.tiles, strict=True):
        assert not one.error
        assert one.strips[0].x == pytest.approx(other.strips[0].x, abs=0.02)
        assert one.strips[0].turn == pytest.approx(other.strips[0].turn, abs=0.05)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ("upside down", "patch A1 is at the third corner given; begin with that one"),
        ("10,10 60,10 60,60 10,400", "are not those of the layout: that of patch"),
        ("10,10 10,60 300,60 300,10", "go round against the clock"),
        ("10,10 900,10 900,60 10,60", "the corner 900,10 lies outside the picture of"),
    ],
)
def test_corners_that_cannot_be_are_refused(scanned: ChartScans, points: str, words: str) -> None:
    if points == "upside down":
        points = true_corners(scanned, 0, first=2)
    report = check(scanned.scans[:1], options(scanned, points))
    error = str(report.tiles[0].error)
    assert words in error
    assert str(scanned.scans[0]) in error


def test_a_chart_needs_a_reference(scanned: ChartScans) -> None:
    with pytest.raises(ReferenceFileError, match=r"'plain' of .*chart\.toml: give its values"):
        check(scanned.scans, CheckOptions(layout=scanned.layout))


def test_layouts_that_ship_are_given_by_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert len(named_layout(Path("iso-12641-1")).patches) == 288
    assert named_layout(Path("strip-long")).marks
    with pytest.raises(LayoutError, match="layouts that come along are called iso-12641-1, strip-"):
        named_layout(Path("iso-12641"))
    with pytest.raises(LayoutError, match=r"none\.toml: cannot read the layout"):
        named_layout(Path("none.toml"))


def test_few_patches_without_marks_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    path.write_text(LAYOUT.replace("columns = 12", "columns = 2"), encoding="utf-8")
    with pytest.raises(LayoutError, match=r"small\.toml: a target without marks needs at least 12"):
        named_layout(path)


def test_a_chart_without_marks_lends_its_values_to_a_strip(tmp_path: Path) -> None:
    scans = chart_scans(tmp_path, ppi=PPI, strip_too=True)
    out = tmp_path / "strip.txt"
    chosen = TransferOptions(
        known=(scans.reference,), layout=scans.layout, out=out, other_ink=False
    )
    report = transfer(scans.scans[:1], chosen)
    assert report.scans == 1
    truth = true_reference(shipped_strip("strip-short"))
    carried = match_reference(read_reference(out), shipped_layouts()["strip-short"])
    errors = delta_e_2000(lab_from_xyz(carried.xyz), lab_from_xyz(truth.xyz))
    # The aim for ink of the same kind.
    assert errors.mean() < 1.0
