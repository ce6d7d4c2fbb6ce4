"""What check notices in whole scans."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms

from colormatch.colour.spaces import rgb_space
from colormatch.files.profiles import space_profile
from colormatch.files.references import reference_text
from colormatch.job.checking import check
from colormatch.job.matching import match
from colormatch.job.options import CheckOptions, MatchOptions
from colormatch.verdict import Advice, Kind
from demo.geometry import Placing
from demo.presets import presets
from demo.run import DemoFiles
from demo.settings import StripPlace
from demo.strip import shipped_strip, true_reference
from tests.benchmarks.bench_merge import scanned
from tests.conftest import PPI

Edit = Callable[[np.ndarray], np.ndarray]


def rewritten(
    source: Path, target: Path, edit: Edit = np.asarray, profile: bytes | None = None
) -> Path:
    """Save a scan again, edited, with another profile."""
    tags = [] if profile is None else [(34675, 7, len(profile), profile, True)]
    tifffile.imwrite(
        target,
        edit(tifffile.imread(source)),
        photometric="rgb",
        resolution=(PPI, PPI),
        resolutionunit=2,
        extratags=tags,
    )
    return target


def test_an_embedded_profile_is_a_starting_point_and_named(
    two_tiles: DemoFiles, tmp_path: Path
) -> None:
    profile = space_profile(rgb_space("srgb"))
    path = rewritten(two_tiles.scans[0], tmp_path / "scan.tif", profile=profile)
    tile = check([path], CheckOptions(reference=two_tiles.reference)).tiles[0]
    assert any("embedded profile" in line and "sRGB" in line for line in tile.assumed)
    assert tile.colour is not None
    assert tile.colour.left_out.mean < 1.0


def test_a_damaged_profile_is_named_as_ignored(two_tiles: DemoFiles, tmp_path: Path) -> None:
    profile = space_profile(rgb_space("srgb"))[:200]
    path = rewritten(two_tiles.scans[0], tmp_path / "scan.tif", profile=profile)
    tile = check([path], CheckOptions(reference=two_tiles.reference)).tiles[0]
    assert any("ignored" in line for line in tile.assumed)


def test_two_strips_in_one_scan_are_both_used(tmp_path: Path) -> None:
    base = presets()["two-tiles"]
    place = Placing(centre=(46.5, 11.0), at=(70.0, 176.0), slant=1.0)
    both = (*base.tiles[0].strips, StripPlace(layout="strip-short", placing=place))
    preset = replace(base, size=(240.0, 130.0), tiles=(replace(base.tiles[0], strips=both),))
    case = scanned(preset, tmp_path, PPI, seed=3)
    tile = check(case.scans, CheckOptions()).tiles[0]
    assert sorted(strip.layout for strip in tile.strips) == ["strip-long", "strip-short"]
    assert len(tile.patches) == 65 + 32


def test_a_short_strip_alone_serves(tmp_path: Path) -> None:
    base = presets()["two-tiles"]
    place = StripPlace(
        layout="strip-short", placing=Placing(centre=(46.5, 11.0), at=(80.0, 200.0), turns=2)
    )
    preset = replace(base, tiles=(replace(base.tiles[0], strips=(place,)),))
    case = scanned(preset, tmp_path, PPI, seed=4)
    measured = true_reference(shipped_strip("strip-short"))
    reference = tmp_path / "short.txt"
    reference.write_text(reference_text(measured, "strip-short"), encoding="utf-8")
    tile = check(case.scans, CheckOptions(reference=reference)).tiles[0]
    assert tile.error is None
    assert tile.colour is not None
    assert tile.colour.left_out.mean < 1.5


def test_a_wrong_resolution_in_the_file_is_noticed(two_tiles: DemoFiles, tmp_path: Path) -> None:
    path = tmp_path / "scan.tif"
    pixels = tifffile.imread(two_tiles.scans[0])
    tifffile.imwrite(path, pixels, photometric="rgb", resolution=(72, 72), resolutionunit=2)
    tile = check([path], CheckOptions(reference=two_tiles.reference)).tiles[0]
    along, across = tile.strips[0].ppi
    assert along == pytest.approx(PPI, rel=0.001)
    # Only 14 mm lie between the marks that way, and the carriage swings by 0.035 mm.
    assert across == pytest.approx(PPI, rel=0.006)
    said = [one for one in tile.findings if one.kind is Kind.SCALE]
    assert "72 x 72 ppi" in said[0].text
    assert said[0].measure == pytest.approx((PPI / 72 - 1) * 100, rel=0.02)


def test_a_covered_corner_of_the_strip_is_named(two_tiles: DemoFiles, tmp_path: Path) -> None:
    def covered(pixels: np.ndarray) -> np.ndarray:
        x, y = (int(v / 25.4 * PPI) for v in (60, 189))
        pixels[y:, x : x + int(12 / 25.4 * PPI)] = pixels[400, 400]
        return pixels

    path = rewritten(two_tiles.scans[0], tmp_path / "scan.tif", covered)
    tile = check([path], CheckOptions(reference=two_tiles.reference)).tiles[0]
    found = [one for one in tile.findings if one.kind is Kind.STRIP_COVERED]
    assert len(found) == 1
    # Patches that reach under the rectangle laid over them, and no others.
    assert len(found[0].places) == round((found[0].measure or 0) * 65 / 100) > 0
    assert [p for p in found[0].places if not (52 < p[0] < 74 and p[1] > 180)] == []
    assert tile.colour is not None
    assert tile.colour.left_out.mean < 1.0


def test_the_scanner_profile_serves_in_other_programs(two_tiles: DemoFiles, tmp_path: Path) -> None:
    options = MatchOptions(
        reference=two_tiles.reference, out=tmp_path, bits=8, scanner_profiles=True
    )
    match(two_tiles.scans[:1], options)
    profile = ImageCms.getOpenProfile(str(tmp_path / "tile-1.icc"))
    assert profile.profile.device_class == "scnr"
    # LittleCMS, through Pillow, with the exported profile, against our own tile.
    raw = tifffile.imread(two_tiles.scans[0])[400:440, 200:700]
    ours = tifffile.imread(tmp_path / "tile-1.tif")[400:440, 200:700].astype(float)
    scan = Image.fromarray((raw >> 8).astype(np.uint8))
    theirs = ImageCms.profileToProfile(
        scan,
        profile,
        ImageCms.createProfile("sRGB"),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )
    # It knows nothing of scattered light and fall-off: some codes are left over.
    assert np.abs(np.asarray(theirs, dtype=float) - ours).mean() < 4


def test_without_a_resolution_in_the_file_the_strip_gives_it(
    two_tiles: DemoFiles, tmp_path: Path
) -> None:
    path = tmp_path / "scan.tif"
    tifffile.imwrite(path, tifffile.imread(two_tiles.scans[0]), photometric="rgb")
    out = tmp_path / "out"
    match([path], MatchOptions(reference=two_tiles.reference, out=out, bits=8))
    with Image.open(out / "scan.tif") as picture:
        assert picture.info["dpi"] == pytest.approx((PPI, PPI), rel=0.001)


def test_what_no_other_scan_would_cure_is_not_to_be_scanned_again(tmp_path: Path) -> None:
    ready = presets()["fluorescent"]
    case = scanned(replace(ready, tiles=ready.tiles[:1]), tmp_path, PPI, seed=0)
    report = check(case.scans, CheckOptions(reference=case.reference))
    (tile,) = report.tiles
    # The lamp's lines keep this scanner above the figures, whatever is done at it.
    assert not report.within
    assert tile.advice is Advice.CARE
    (missed,) = [one for one in tile.findings if one.kind is Kind.TOLERANCE]
    assert "another scan would come out the same" in missed.text
    assert "paints" in missed.next_step
