"""Files the demo leaves."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from colormatch.errors import InputError, OutputError
from colormatch.files.layouts import shipped_layouts
from colormatch.files.references import read_reference
from demo.run import XYZ_SCALE, DemoFiles, draw
from demo.strip import PrintedStrip, true_reference


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> DemoFiles:
    return draw(tmp_path_factory.mktemp("demo") / "new", preset="two-tiles", ppi=75, seed=1)


def test_scans_open_with_their_size_and_resolution(drawn: DemoFiles) -> None:
    assert [path.name for path in drawn.scans] == ["tile-1.tif", "tile-2.tif"]
    for path in drawn.scans:
        with tifffile.TiffFile(path) as file:
            page = file.pages.first
            assert page.shape == (635, 561, 3)
            assert page.dtype == np.uint16
            assert page.tags["XResolution"].value == (75, 1)
            assert page.tags["ResolutionUnit"].value == 2


def test_truth_fits_the_scan(drawn: DemoFiles) -> None:
    with np.load(drawn.truth[0]) as truth:
        xyz, painting = truth["xyz"] / XYZ_SCALE, truth["painting"]
        affine = truth["sheet_from_px"]
    scan = tifffile.imread(drawn.scans[0])
    assert xyz.shape == scan.shape
    assert painting.shape == scan.shape[:2]
    lightness = lab_from_xyz(xyz[painting])[:, 0]
    green = scan[painting][:, 1].astype(float)
    assert np.corrcoef(lightness, green)[0, 1] > 0.95
    # One pixel is 25.4 / 75 mm on the sheet, whatever the slant.
    assert np.linalg.norm(affine[:, 0]) == pytest.approx(25.4 / 75)


def test_reference_is_measured_and_near_the_truth(
    drawn: DemoFiles, long_strip: PrintedStrip
) -> None:
    reference = read_reference(drawn.reference)
    true = true_reference(long_strip)
    assert reference.kind == "measured"
    assert set(reference.ids) == {p.id for p in shipped_layouts()["strip-long"].patches}
    order = [reference.ids.index(name) for name in true.ids]
    apart = delta_e_2000(lab_from_xyz(reference.xyz[order]), lab_from_xyz(true.xyz))
    assert 0.05 < apart.mean() < 0.4


def test_story_says_it_is_invented(drawn: DemoFiles) -> None:
    assert "invented" in drawn.story.read_text(encoding="utf-8")


def test_nothing_is_overwritten_unasked(drawn: DemoFiles) -> None:
    before = drawn.scans[0].read_bytes()
    with pytest.raises(OutputError, match="exists already"):
        draw(drawn.scans[0].parent, ppi=75)
    assert drawn.scans[0].read_bytes() == before


def test_bad_wishes_are_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="choose one of two-tiles"):
        draw(tmp_path, preset="three-tiles")
    with pytest.raises(InputError, match="75 to 1200 ppi"):
        draw(tmp_path, ppi=20)
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError, match="cannot be made"):
        draw(tmp_path / "file" / "demo", ppi=75)
