"""The main job through files, against the truth that the demo keeps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from colormatch.errors import OutputError
from colormatch.job.checking import check
from colormatch.job.matching import match
from colormatch.job.options import CheckOptions, MatchOptions
from colormatch.verdict import Kind
from demo.run import DemoFiles
from tests.benchmarks.bench_colour import against_truth, matched_xyz, overlap
from tests.conftest import PPI


@pytest.fixture(scope="module")
def matched(two_tiles: DemoFiles, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    out = tmp_path_factory.mktemp("matched")
    report = match(
        two_tiles.scans,
        MatchOptions(reference=two_tiles.reference, out=out, space="oprgb", title="Quay at noon"),
    )
    return [Path(tile.written or "") for tile in report.tiles]


def errors(written: list[Path], files: DemoFiles) -> list[float]:
    return [
        float(against_truth(matched_xyz(path), truth, PPI).mean())
        for path, truth in zip(written, files.truth, strict=True)
    ]


def test_a_bright_painting_comes_out_in_its_true_colour(
    matched: list[Path], two_tiles: DemoFiles
) -> None:
    # The best any 3x3 fitted to ink can do on this scene is 0.7.
    assert max(errors(matched, two_tiles)) <= 1.0


def test_tiles_agree_where_they_overlap(matched: list[Path], two_tiles: DemoFiles) -> None:
    pictures = [matched_xyz(path) for path in matched]
    assert overlap(pictures, list(two_tiles.truth), PPI) <= 0.25


def test_a_dark_painting_among_white_comes_out_in_its_true_colour(
    dark_oil: DemoFiles, tmp_path: Path
) -> None:
    report = match(
        dark_oil.scans, MatchOptions(reference=dark_oil.reference, out=tmp_path, space="oprgb")
    )
    assert max(errors([Path(t.written or "") for t in report.tiles], dark_oil)) <= 1.3
    assert all(t.colour is not None and 1 < t.colour.scattered < 5 for t in report.tiles)


def test_matched_tiles_keep_size_depth_and_resolution(
    matched: list[Path], two_tiles: DemoFiles
) -> None:
    for path, scan in zip(matched, two_tiles.scans, strict=True):
        assert tifffile.imread(path).shape == tifffile.imread(scan).shape
        assert tifffile.imread(path).dtype == np.uint16
        with Image.open(path) as picture:
            assert picture.info["dpi"] == pytest.approx((PPI, PPI))


def test_scans_stay_as_they_were(two_tiles: DemoFiles, tmp_path: Path) -> None:
    before = [path.read_bytes() for path in two_tiles.scans]
    match(two_tiles.scans, MatchOptions(reference=two_tiles.reference, out=tmp_path))
    assert [path.read_bytes() for path in two_tiles.scans] == before


def test_results_are_not_overwritten_unasked(two_tiles: DemoFiles, tmp_path: Path) -> None:
    options = MatchOptions(reference=two_tiles.reference, out=tmp_path, bits=8)
    match(two_tiles.scans, options)
    first = tifffile.imread(tmp_path / "tile-1.tif")
    with pytest.raises(OutputError, match=r"tile-1\.tif exists already: give --force"):
        match(two_tiles.scans, options)
    match(two_tiles.scans, replace(options, force=True))
    np.testing.assert_array_equal(tifffile.imread(tmp_path / "tile-1.tif"), first)


def test_scans_are_never_overwritten_even_by_force(two_tiles: DemoFiles) -> None:
    options = MatchOptions(out=two_tiles.scans[0].parent, force=True)
    with pytest.raises(OutputError, match="scans are never overwritten"):
        match(two_tiles.scans, options)


def test_one_bad_scan_and_nothing_is_written(two_tiles: DemoFiles, tmp_path: Path) -> None:
    bad = tmp_path / "letter.tif"
    bad.write_bytes(b"Dear Sir")
    out = tmp_path / "out"
    report = match([*two_tiles.scans, bad], MatchOptions(reference=two_tiles.reference, out=out))
    assert report.failed
    assert not out.exists()


def test_nominal_values_are_named_as_an_assumption(two_tiles: DemoFiles) -> None:
    report = check(two_tiles.scans, CheckOptions())
    assert report.reference_kind == "nominal"
    assert any("nominal" in line and "not true colour" in line for line in report.assumed)


Edit = Callable[[np.ndarray], np.ndarray]


def edited(files: DemoFiles, folder: Path, edit: Edit) -> list[Path]:
    """Copy the scans, the second one edited."""
    first, second = (tifffile.imread(path) for path in files.scans)
    paths = [folder / "a.tif", folder / "b.tif"]
    for path, pixels in zip(paths, (first, edit(second)), strict=True):
        tifffile.imwrite(path, pixels, photometric="rgb", resolution=(PPI, PPI), resolutionunit=2)
    return paths


def test_a_tile_with_another_tone_curve_is_named(two_tiles: DemoFiles, tmp_path: Path) -> None:
    def brighter(pixels: np.ndarray) -> np.ndarray:
        return np.asarray(np.round((pixels / 65535) ** 0.8 * 65535), dtype=np.uint16)

    paths = edited(two_tiles, tmp_path, brighter)
    report = check(paths, CheckOptions(reference=two_tiles.reference))
    assert len(report.groups) == 2
    named = [any("another tone curve" in f.text for f in t.findings) for t in report.tiles]
    assert sum(named) == 1


def test_a_tile_with_another_saturation_is_named(two_tiles: DemoFiles, tmp_path: Path) -> None:
    def livelier(pixels: np.ndarray) -> np.ndarray:
        grey = pixels.mean(axis=2, keepdims=True)
        livened = np.clip(grey + 1.15 * (pixels - grey), 0, 65535)
        return np.asarray(livened, dtype=np.uint16)

    paths = edited(two_tiles, tmp_path, livelier)
    report = check(paths, CheckOptions(reference=two_tiles.reference))
    found = [f.text for t in report.tiles for f in t.findings]
    assert any("other settings" in text or "another tone curve" in text for text in found)


def test_a_clipped_tile_is_sent_back(two_tiles: DemoFiles, tmp_path: Path) -> None:
    def overexposed(pixels: np.ndarray) -> np.ndarray:
        return np.clip(pixels.astype(float) * 1.35, 0, 65535).astype(np.uint16)

    paths = edited(two_tiles, tmp_path, overexposed)
    report = check(paths, CheckOptions(reference=two_tiles.reference))
    assert report.tiles[1].advice == "scan again"
    assert any(f.kind is Kind.CLIPPED for f in report.tiles[1].findings)
