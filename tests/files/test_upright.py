"""The orientation tag, against Pillow's own turning."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageOps

from colormatch.files.images import open_scan
from tests.files.pictures import noise, part, random_windows, smooth, whole


@pytest.mark.parametrize("orientation", range(1, 9))
def test_windows_equal_pillows_turning(tmp_path: Path, orientation: int) -> None:
    pixels = noise(31, 47, 8)
    exif = Image.Exif()
    exif[274] = orientation
    path = tmp_path / "a.png"
    Image.fromarray(pixels).save(path, exif=exif)
    with Image.open(path) as image:
        expected = np.asarray(ImageOps.exif_transpose(image))
    scan = open_scan(path)
    assert (scan.height, scan.width) == expected.shape[:2]
    assert len(scan.notes) == (orientation != 1)
    for window in random_windows(scan.height, scan.width):
        read = scan.read(window)
        assert read.flags.c_contiguous
        np.testing.assert_array_equal(read, part(expected, window))


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_three_formats_agree(tmp_path: Path, orientation: int) -> None:
    exif = Image.Exif()
    exif[274] = orientation
    Image.fromarray(smooth(24, 40)).save(tmp_path / "a.jpg", exif=exif)
    with Image.open(tmp_path / "a.jpg") as image:
        pixels = np.asarray(image)
    Image.fromarray(pixels).save(tmp_path / "a.png", exif=exif)
    tag = (274, "H", 1, orientation, True)
    tifffile.imwrite(tmp_path / "a.tif", pixels, photometric="rgb", extratags=[tag])
    jpeg, png, tiff = (whole(open_scan(tmp_path / f"a.{end}")) for end in ("jpg", "png", "tif"))
    np.testing.assert_array_equal(jpeg, png)
    np.testing.assert_array_equal(tiff, png)


def test_ppi_turns_with_the_picture(tmp_path: Path) -> None:
    tag = (274, "H", 1, 6, True)
    path = tmp_path / "a.tif"
    tifffile.imwrite(
        path,
        noise(9, 9, 8),
        photometric="rgb",
        extratags=[tag],
        resolution=(300, 600),
        resolutionunit="inch",
    )
    assert open_scan(path).ppi == (600, 300)


def test_unknown_value_is_ignored_with_a_note(tmp_path: Path) -> None:
    path, pixels = tmp_path / "a.tif", noise(9, 12, 8)
    tag = (274, "H", 1, 42, True)
    tifffile.imwrite(path, pixels, photometric="rgb", extratags=[tag])
    scan = open_scan(path)
    assert scan.notes[-1] == "its orientation tag has the unknown value 42 and is ignored"
    np.testing.assert_array_equal(whole(scan), pixels)
