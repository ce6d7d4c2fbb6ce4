"""What made a scan, from the three formats."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from colormatch.files.device import MAKE, MODEL, device_name
from colormatch.files.images import open_scan


@pytest.mark.parametrize(
    ("make", "model", "name"),
    [
        ("Lamplight", "Flat 12", "Lamplight Flat 12"),
        ("Lamplight", "lamplight Flat 12", "lamplight Flat 12"),
        (" Lamplight\0", None, "Lamplight"),
        (None, "Flat\n12 ", "Flat 12"),
        (None, None, ""),
        (7, b"x", ""),
        ("x" * 200, "", "x" * 80),
    ],
)
def test_make_and_model_become_one_name(make: object, model: object, name: str) -> None:
    assert device_name(make, model) == name


def test_all_formats_tell_what_made_them(tmp_path: Path) -> None:
    pixels = np.full((80, 90, 3), 128, np.uint8)
    exif = Image.Exif()
    exif[MAKE], exif[MODEL] = "Lamplight", "Flat 12"
    for name in ("a.png", "a.jpg"):
        Image.fromarray(pixels).save(tmp_path / name, exif=exif)
    tags = [(MAKE, 2, 0, "Lamplight", True), (MODEL, 2, 0, "Flat 12", True)]
    tifffile.imwrite(tmp_path / "a.tif", pixels, photometric="rgb", extratags=tags)
    for name in ("a.png", "a.jpg", "a.tif"):
        scan = open_scan(tmp_path / name)
        assert scan.device == "Lamplight Flat 12"
        scan.close()


def test_a_file_that_does_not_say_gives_no_name(tmp_path: Path) -> None:
    tifffile.imwrite(tmp_path / "a.tif", np.zeros((80, 90, 3), np.uint8), photometric="rgb")
    scan = open_scan(tmp_path / "a.tif")
    assert scan.device == ""
    scan.close()
