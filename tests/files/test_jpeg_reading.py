"""JPEG files written by Pillow and imagecodecs (libjpeg-turbo), and damaged by hand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageCms

from colormatch.errors import ScanError
from colormatch.files.images import open_scan
from tests.files.pictures import part, random_windows, read_whole, smooth, whole

PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def save(path: Path, **options: Any) -> Path:
    Image.fromarray(smooth(64, 80)).save(path, **options)
    return path


@pytest.mark.parametrize(
    "options",
    [{"quality": 95, "subsampling": 0}, {"progressive": True}, {"subsampling": 2}],
    ids=["4:4:4", "progressive", "4:2:0"],
)
def test_pixels_equal_another_readers(tmp_path: Path, options: dict[str, Any]) -> None:
    path = save(tmp_path / "a.jpg", **options)
    with Image.open(path) as image:
        expected = np.asarray(image)
    scan = open_scan(path)
    assert (scan.width, scan.height, scan.bits, scan.format) == (80, 64, 8, "jpeg")
    for window in random_windows(64, 80):
        np.testing.assert_array_equal(scan.read(window), part(expected, window))


def test_channels_arrive_in_order(tmp_path: Path) -> None:
    path = tmp_path / "red.jpg"
    Image.new("RGB", (16, 16), (250, 20, 60)).save(path, quality=95)
    np.testing.assert_allclose(read_whole(path)[8, 8].astype(int), (250, 20, 60), atol=3)


def test_profile_in_one_piece_and_in_several(tmp_path: Path) -> None:
    assert open_scan(save(tmp_path / "a.jpg", icc_profile=PROFILE)).profile == PROFILE
    # A segment holds 65519 bytes of profile (ICC.1:2022, B.4).
    long = PROFILE + np.random.default_rng(0).bytes(150_000)
    assert open_scan(save(tmp_path / "b.jpg", icc_profile=long)).profile == long


def test_profile_with_a_lost_piece_is_noted(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg", icc_profile=PROFILE + bytes(150_000))
    data = path.read_bytes()
    path.write_bytes(data.replace(b"ICC_PROFILE\0\x02", b"XCC_PROFILE\0\x02"))
    scan = open_scan(path)
    assert scan.profile is None
    assert scan.notes == ("its embedded profile is damaged and is not used",)


@pytest.mark.parametrize(
    ("density", "ppi"),
    [
        (b"\x01\x01\x2c\x01\x2c", (300.0, 300.0)),
        (b"\x02\x00\x76\x00\x76", (299.72, 299.72)),
        (b"\x00\x00\x01\x00\x01", None),
        (b"\x01\x00\x01\x00\x01", None),
        (b"\x01\x00\x00\x00\x00", None),
    ],
    ids=["inch", "centimetre", "ratio", "1 x 1", "zero"],
)
def test_ppi_of_jfif(tmp_path: Path, density: bytes, ppi: tuple[float, float] | None) -> None:
    path = save(tmp_path / "a.jpg", dpi=(72, 72))
    data = path.read_bytes()
    at = data.index(b"JFIF\0\x01\x01") + 7
    path.write_bytes(data[:at] + density + data[at + 5 :])
    assert open_scan(path).ppi == (None if ppi is None else pytest.approx(ppi))


def test_ppi_and_orientation_of_exif(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[274], exif[282], exif[283], exif[296] = 6, 120, 120, 3
    scan = open_scan(save(tmp_path / "a.jpg", exif=exif))
    assert (scan.width, scan.height) == (64, 80)
    assert scan.ppi == pytest.approx((304.8, 304.8))
    assert scan.notes == ("turned by 90° clockwise, as its orientation tag asks",)


def test_damaged_exif_is_ignored(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[274] = 6
    path = save(tmp_path / "a.jpg", exif=exif)
    path.write_bytes(path.read_bytes().replace(b"Exif\0\0MM", b"Exif\0\0??"))
    scan = open_scan(path)
    assert (scan.width, scan.height, scan.ppi) == (80, 64, None)


@pytest.mark.parametrize(("mode", "words"), [("L", "is grey"), ("CMYK", "is CMYK")])
def test_other_kinds_are_refused(tmp_path: Path, mode: str, words: str) -> None:
    path = tmp_path / "odd.jpg"
    Image.new(mode, (9, 9)).save(path)
    with pytest.raises(ScanError, match=rf"odd\.jpg {words}: scan it again"):
        open_scan(path)


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("kept", [0.01, 0.2, 0.5, 0.9, 0.999])
def test_truncated_file_is_refused(tmp_path: Path, kept: float, progressive: bool) -> None:
    """Decoders fill the rest with grey and report nothing."""
    path = save(tmp_path / "a.jpg", quality=95, progressive=progressive)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * kept)])
    with pytest.raises(ScanError, match=r"a\.jpg is cut short.*scan it again"):
        open_scan(path)


def test_truncated_file_with_a_thumbnail_is_refused(tmp_path: Path) -> None:
    """The thumbnail's own end must not pass for the picture's."""
    thumbnail = tmp_path / "t.jpg"
    Image.new("RGB", (16, 16)).save(thumbnail)
    path = save(tmp_path / "a.jpg", exif=b"Exif\0\0" + thumbnail.read_bytes())
    data = path.read_bytes()
    assert data.count(b"\xff\xd9") == 2
    path.write_bytes(data[:-20])
    with pytest.raises(ScanError, match="is cut short"):
        open_scan(path)


def test_bytes_after_the_end_do_not_matter(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg")
    before = read_whole(path)
    path.write_bytes(path.read_bytes() + bytes(100))
    np.testing.assert_array_equal(read_whole(path), before)


def test_lossless_kind_is_refused(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg")
    data = bytearray(path.read_bytes())
    data[data.index(b"\xff\xc0") + 1] = 0xC3  # ITU-T T.81, table B.1
    path.write_bytes(data)
    with pytest.raises(ScanError, match=r"rare kind of JPEG.*best to TIFF"):
        open_scan(path)


def test_damage_found_by_the_decoder_is_refused(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg")
    path.write_bytes(path.read_bytes().replace(b"\xff\xdb", b"\xff\xfe"))  # tables hidden
    scan = open_scan(path)
    with pytest.raises(ScanError, match=r"a\.jpg is damaged"):
        whole(scan)


def test_channels_stored_as_rgb(tmp_path: Path) -> None:
    """Without the usual turn to luma and chroma (Adobe marker, transform 0)."""
    path = save(tmp_path / "a.jpg", quality=98, keep_rgb=True)
    difference = read_whole(path).astype(int) - smooth(64, 80)
    assert np.abs(difference).max() < 6
