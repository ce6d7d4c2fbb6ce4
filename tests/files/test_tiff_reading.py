"""Which TIFF files are taken, what is noted, and how the rest is refused."""

from __future__ import annotations

import logging
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms

from colormatch.errors import ScanError
from colormatch.files.images import open_scan
from tests.files.pictures import noise, read_whole


def save(path: Path, pixels: Any, **options: Any) -> Path:
    options.setdefault("photometric", "rgb")
    tifffile.imwrite(path, pixels, **options)
    return path


@pytest.mark.parametrize(
    ("options", "ppi"),
    [
        ({"resolution": (600, 600), "resolutionunit": "inch"}, (600.0, 600.0)),
        ({"resolution": (118.11, 118.11), "resolutionunit": "centimeter"}, (300.0, 300.0)),
        ({"resolution": (1, 1), "resolutionunit": "inch"}, None),
        ({"resolution": (300, 300), "resolutionunit": "none"}, None),
        ({}, None),
    ],
)
def test_ppi(tmp_path: Path, options: dict[str, Any], ppi: tuple[float, float] | None) -> None:
    scan = open_scan(save(tmp_path / "a.tif", noise(9, 9, 8), **options))
    assert scan.ppi == (ppi if ppi is None else pytest.approx(ppi, abs=0.01))
    assert scan.notes == ()


def test_different_ppi_is_noted(tmp_path: Path) -> None:
    path = save(tmp_path / "a.tif", noise(9, 9, 8), resolution=(300, 600), resolutionunit="inch")
    scan = open_scan(path)
    assert scan.ppi == (300, 600)
    assert scan.notes == ("its resolution differs: 300 ppi across, 600 ppi down",)


def test_profile_is_kept_byte_for_byte(tmp_path: Path) -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    path = save(tmp_path / "a.tif", noise(9, 9, 16), iccprofile=profile)
    assert open_scan(path).profile == profile
    assert open_scan(save(tmp_path / "b.tif", noise(9, 9, 16))).profile is None


GREY = noise(20, 30, 8)[..., 0]


@pytest.mark.parametrize(
    ("pixels", "options", "words"),
    [
        (GREY, {"photometric": "minisblack"}, "is grey: scan it again"),
        (GREY, {"photometric": "miniswhite"}, "is grey"),
        (GREY > 99, {"photometric": "minisblack"}, "is grey"),
        (GREY, {"photometric": "palette", "colormap": np.zeros((3, 256), "u2")}, "palette"),
        (np.dstack([GREY] * 4), {"photometric": "separated"}, "is CMYK: scan it again"),
        (np.dstack([GREY] * 3), {"photometric": "cielab"}, "stored as CIELAB"),
        (np.dstack([GREY] * 3), {"photometric": "ycbcr"}, "luma and chroma"),
        (GREY, {"photometric": "cfa"}, "a raw sensor picture"),
        (
            np.dstack([GREY] * 3).astype("f4"),
            {},
            "has floating point 32-bit channels: scan it again",
        ),
        (np.dstack([GREY] * 3).astype("u4"), {}, "has 32-bit channels"),
        (np.dstack([GREY] * 3).astype("i2"), {}, "has signed 16-bit channels"),
        (np.dstack([GREY] * 3), {"compression": "lzma"}, r"not read \(LZMA\): save it again"),
    ],
)
def test_other_kinds_are_refused(
    tmp_path: Path, pixels: Any, options: dict[str, Any], words: str
) -> None:
    path = save(tmp_path / "odd.tif", pixels, **options)
    with pytest.raises(ScanError, match=rf"odd\.tif .*{words}"):
        open_scan(path)


def test_several_pages_are_noted(tmp_path: Path) -> None:
    first, second = noise(20, 30, 16), noise(20, 30, 16, seed=9)
    path = tmp_path / "a.tif"
    with tifffile.TiffWriter(path) as writer:
        writer.write(first, photometric="rgb")
        writer.write(second, photometric="rgb")
    assert open_scan(path).notes == ("it has 2 pages, of which the first is used",)
    np.testing.assert_array_equal(read_whole(path), first)


def test_thumbnail_page_is_skipped(tmp_path: Path) -> None:
    full = noise(40, 60, 16)
    path = tmp_path / "a.tif"
    with tifffile.TiffWriter(path) as writer:
        writer.write(noise(4, 6, 8), photometric="rgb", subfiletype=1)
        writer.write(full, photometric="rgb")
    assert open_scan(path).notes == ("its first page, a thumbnail, is skipped",)
    np.testing.assert_array_equal(read_whole(path), full)


def test_premultiplied_alpha_is_noted(tmp_path: Path) -> None:
    pixels = np.dstack([noise(9, 9, 8), GREY[:9, :9]])
    path = save(tmp_path / "a.tif", pixels, extrasamples=["assocalpha"])
    assert "as dark as stored" in open_scan(path).notes[0]


def test_further_channels_are_noted(tmp_path: Path) -> None:
    pixels = np.dstack([noise(9, 9, 8), noise(9, 9, 8, seed=3)])
    path = save(tmp_path / "a.tif", pixels, extrasamples=["unspecified"] * 3)
    scan = open_scan(path)
    assert scan.notes == ("its 3 channels beyond red, green and blue are dropped",)
    np.testing.assert_array_equal(read_whole(path), pixels[..., :3])


def test_pillow_agrees_on_the_size_of_a_bilevel_file(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    Image.new("1", (30, 20)).save(path)
    with pytest.raises(ScanError, match="is grey"):
        open_scan(path)


def test_what_the_library_would_log_becomes_a_note(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    path, pixels = tmp_path / "a.tif", noise(9, 9, 8)
    tifffile.imwrite(path, pixels, photometric="rgb", software="")
    data = bytearray(path.read_bytes())
    # The first directory's link to the next one (TIFF 6.0, section 2) leads nowhere.
    (start,) = struct.unpack_from("<I", data, 4)
    (count,) = struct.unpack_from("<H", data, start)
    struct.pack_into("<I", data, start + 2 + 12 * count, 0x7FFFFFF0)
    path.write_bytes(data)
    with caplog.at_level(logging.DEBUG):
        scan = open_scan(path)
    assert len(scan.notes) == 1
    assert scan.notes[0].startswith("its structure is odd: ")
    assert "<" not in scan.notes[0]
    assert not caplog.records
    assert capfd.readouterr() == ("", "")
    np.testing.assert_array_equal(read_whole(path), pixels)


def test_logging_of_others_is_left_alone(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    open_scan(save(tmp_path / "a.tif", noise(9, 9, 8)))
    logging.getLogger("tifffile").warning("someone else's")
    assert [record.getMessage() for record in caplog.records] == ["someone else's"]
