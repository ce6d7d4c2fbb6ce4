"""Merging from the command line, on the demo's scans."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from colormatch.cli.main import run
from demo.presets import presets
from demo.run import DemoFiles
from tests.benchmarks.bench_merge import blank_sheet
from tests.conftest import PPI

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def merged(two_tiles: DemoFiles, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("merged")
    arguments = ["--reference", str(two_tiles.reference), "--sheet", "220x160mm"]
    more = ["--maps", str(folder / "maps"), "--tiles-too", str(folder / "tiles")]
    out = folder / "painting.tif"
    # The files in the wrong order: their order must not matter.
    scans = [str(path) for path in reversed(two_tiles.scans)]
    assert run(["merge", *scans, "--out", str(out), *arguments, *more]) == 0
    return folder


def test_the_picture_has_the_size_of_the_painting(merged: Path) -> None:
    pixels = tifffile.imread(merged / "painting.tif")
    height, width = (n / PPI * 25.4 for n in pixels.shape[:2])
    # The painted part of the demo's sheet; its edge is ragged by a millimetre.
    assert width == pytest.approx(220, abs=1.5)
    assert height == pytest.approx(160, abs=1.5)
    assert pixels.dtype == np.uint16


def test_maps_and_tiles_are_written(merged: Path) -> None:
    assert {p.name for p in (merged / "maps").iterdir()} == {"seams.png", "levelling.png"}
    assert {p.name for p in (merged / "tiles").iterdir()} == {"tile-1.tif", "tile-2.tif"}


def test_nothing_is_replaced_unasked(merged: Path, two_tiles: DemoFiles, capsys: Capture) -> None:
    scans = [str(path) for path in two_tiles.scans]
    assert run(["merge", *scans, "--out", str(merged / "painting.tif")]) == 1
    assert "exists already" in capsys.readouterr().err


def test_a_scan_is_never_replaced(two_tiles: DemoFiles, capsys: Capture) -> None:
    scans = [str(path) for path in two_tiles.scans]
    assert run(["merge", *scans, "--out", scans[0], "--force"]) == 1
    assert "never overwritten" in capsys.readouterr().err


def test_a_tile_without_a_strip_takes_its_colour_from_the_other(
    two_tiles: DemoFiles, merged: Path, tmp_path: Path, capsys: Capture
) -> None:
    bare = tifffile.imread(two_tiles.scans[1])
    row = int(188 / 25.4 * PPI)
    bare[row:] = bare[row - 1 : row]
    scan = tmp_path / "bare.tif"
    tifffile.imwrite(scan, bare, photometric="rgb", resolution=(PPI, PPI), resolutionunit=2)
    out = tmp_path / "painting.tif"
    arguments = ["--out", str(out), "--reference", str(two_tiles.reference)]
    assert run(["merge", str(two_tiles.scans[0]), str(scan), *arguments]) == 0
    said = capsys.readouterr().out
    assert "taken from its neighbours" in said
    assert "taken to be those of the tiles with one" in said
    ours, both = (tifffile.imread(p).astype(float) for p in (out, merged / "painting.tif"))
    rows, columns = (min(n) for n in zip(ours.shape[:2], both.shape[:2], strict=True))
    # One percent of light is 0.45 percent of the code of a 2.2 power.
    apart = ours[:rows, :columns].mean((0, 1)) / both[:rows, :columns].mean((0, 1))
    np.testing.assert_allclose(apart, 1.0, atol=0.0045)


def test_regions_and_a_blank_sheet_are_followed(
    two_tiles: DemoFiles, tmp_path: Path, capsys: Capture
) -> None:
    keep = tmp_path / "keep.toml"
    box = "[[60, 30], [120, 30], [120, 90], [60, 90]]"
    keep.write_text(f'[[keep]]\ntile = "tile-2.tif"\npolygon = {box}\n', encoding="utf-8")
    blank = blank_sheet(presets()["two-tiles"], tmp_path, PPI)
    out, maps = tmp_path / "painting.tif", tmp_path / "maps"
    more = ["--keep", str(keep), "--blank", str(blank), "--maps", str(maps), "--json"]
    scans = [str(path) for path in two_tiles.scans]
    arguments = ["--reference", str(two_tiles.reference), "--out", str(out), *more]
    assert run(["merge", *scans, *arguments]) == 0
    data = json.loads(capsys.readouterr().out)
    assert 0 < data["merged"]["shares"]["tile-2.tif"] < 1
    with Image.open(maps / "seams.png") as picture:
        pixels = np.asarray(picture.convert("RGB")).astype(int)
    scale = pixels.shape[1] / 220
    inside = pixels[int(35 * scale) : int(85 * scale), int(65 * scale) : int(115 * scale)]
    # The second tile's part is tinted blue; the first one's orange.
    assert (inside[..., 2] >= inside[..., 0]).mean() > 0.97


def test_a_full_disk_makes_it_slower_and_says_so(
    two_tiles: DemoFiles, tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    scans = []
    for path in two_tiles.scans:
        scans.append(str(tmp_path / path.name))
        tifffile.imwrite(
            scans[-1],
            tifffile.imread(path),
            photometric="rgb",
            compression="deflate",
            resolution=(PPI, PPI),
            resolutionunit=2,
        )
    pictures, reference = [], str(two_tiles.reference)
    for room in (True, False):
        monkeypatch.setattr("colormatch.files.unpacked._has_room", lambda *_, room=room: room)
        out = tmp_path / f"{room}.tif"
        assert run(["merge", *scans, "--out", str(out), "--reference", reference]) == 0
        said = capsys.readouterr().out
        assert ("to unpack tile-1.tif and tile-2.tif" in said) != room
        assert ("so merging took longer" in said) != room
        pictures.append(tifffile.imread(out))
    np.testing.assert_array_equal(pictures[0], pictures[1])


def test_one_tile_twice_is_named(two_tiles: DemoFiles, tmp_path: Path, capsys: Capture) -> None:
    copy = tmp_path / "copy.tif"
    copy.write_bytes(two_tiles.scans[0].read_bytes())
    out = tmp_path / "painting.tif"
    assert run(["merge", str(two_tiles.scans[0]), str(copy), "--out", str(out)]) == 1
    said = capsys.readouterr().err
    assert "copy.tif" in said
    assert "tile-1.tif" in said
    assert not out.exists()


def test_tiles_that_do_not_belong_together_are_named(
    two_tiles: DemoFiles, dark_oil: DemoFiles, tmp_path: Path, capsys: Capture
) -> None:
    other = tmp_path / "other.tif"
    other.write_bytes(dark_oil.scans[0].read_bytes())
    out = tmp_path / "painting.tif"
    assert run(["merge", str(two_tiles.scans[0]), str(other), "--out", str(out)]) == 1
    assert "other.tif" in capsys.readouterr().err
    assert not out.exists()


@pytest.mark.parametrize(
    ("option", "value", "word"),
    [
        ("--sheet", "big", "500x700mm"),
        ("--wrap", "-3mm", "30mm"),
        ("--order", "2", "2x3"),
        ("--keep", "nothing.toml", "nothing.toml"),
        ("--blank", "nothing.tif", "nothing.tif"),
    ],
)
def test_wrong_options_get_a_sentence(
    option: str, value: str, word: str, two_tiles: DemoFiles, tmp_path: Path, capsys: Capture
) -> None:
    scans = [str(path) for path in two_tiles.scans]
    out = tmp_path / "painting.tif"
    assert run(["merge", *scans, "--out", str(out), option, value]) in (1, 2)
    said = "".join(capsys.readouterr())
    assert word in said
    assert "inside the program" not in said
    assert not out.exists()


def test_an_ending_that_tells_no_format_is_wrong_usage(scan: Path, capsys: Capture) -> None:
    assert run(["merge", str(scan), "--out", "painting.bmp"]) == 2
    assert ".tif, .png or .jpg" in capsys.readouterr().err
