"""PNG files written by OpenCV, Pillow, imagecodecs and by hand."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import cv2
import imagecodecs
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageCms

from colormatch.errors import ScanError
from colormatch.files.images import open_scan
from tests.files.pictures import noise, part, random_windows, read_whole, whole

PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def chunk(kind: bytes, data: bytes) -> bytes:
    checked = kind + data
    return struct.pack(">I", len(data)) + checked + struct.pack(">I", zlib.crc32(checked))


def with_chunks(path: Path, *chunks: bytes) -> None:
    """Put chunks between the header (which ends at byte 33) and the pixels."""
    data = path.read_bytes()
    path.write_bytes(data[:33] + b"".join(chunks) + data[33:])


def save_pillow(path: Path, pixels: NDArray[Any], **options: Any) -> Path:
    Image.fromarray(pixels).save(path, **options)
    return path


def test_sixteen_bits_arrive_as_sixteen(tmp_path: Path) -> None:
    pixels = noise(40, 50, 16)
    path = tmp_path / "a.png"
    cv2.imwrite(str(path), pixels[..., ::-1])
    scan = open_scan(path)
    assert (scan.width, scan.height, scan.bits, scan.format) == (50, 40, 16, "png")
    for window in random_windows(40, 50):
        read = scan.read(window)
        assert read.dtype == np.uint16
        np.testing.assert_array_equal(read, part(pixels, window))
    scan.close()


def test_eight_bits(tmp_path: Path) -> None:
    pixels = noise(40, 50, 8)
    np.testing.assert_array_equal(read_whole(save_pillow(tmp_path / "a.png", pixels)), pixels)


def test_a_window_is_a_copy(tmp_path: Path) -> None:
    pixels = noise(9, 9, 8)
    scan = open_scan(save_pillow(tmp_path / "a.png", pixels))
    whole(scan)[:] = 0
    np.testing.assert_array_equal(whole(scan), pixels)


@pytest.mark.parametrize("bits", [8, 16])
def test_alpha_is_dropped_with_a_note(tmp_path: Path, bits: int) -> None:
    pixels = np.dstack([noise(9, 9, bits), noise(9, 9, bits, seed=4)[..., 0]])
    path = tmp_path / "a.png"
    path.write_bytes(imagecodecs.png_encode(pixels))
    scan = open_scan(path)
    assert scan.notes == ("its alpha channel is dropped",)
    np.testing.assert_array_equal(whole(scan), pixels[..., :3])


def test_transparent_colour_is_an_ordinary_one(tmp_path: Path) -> None:
    pixels = noise(9, 9, 8)
    path = save_pillow(tmp_path / "a.png", pixels, transparency=tuple(pixels[3, 3].tolist()))
    scan = open_scan(path)
    assert scan.notes == ("its transparent colour is taken as any other",)
    np.testing.assert_array_equal(whole(scan), pixels)


def test_profile_and_ppi(tmp_path: Path) -> None:
    path = save_pillow(tmp_path / "a.png", noise(9, 9, 8), dpi=(300, 300), icc_profile=PROFILE)
    scan = open_scan(path)
    assert scan.profile == PROFILE
    # 11811 pixels per metre is the nearest the format can say (W3C PNG, 11.3.5.3).
    assert scan.ppi == pytest.approx((11811 * 0.0254,) * 2)
    assert scan.notes == ()


@pytest.mark.parametrize(
    ("across", "down", "unit", "ppi"),
    [(11811, 11811, 0, None), (1, 1, 0, None), (23622, 11811, 1, (599.9988, 299.9994))],
)
def test_odd_scales(
    tmp_path: Path, across: int, down: int, unit: int, ppi: tuple[float, float] | None
) -> None:
    path = save_pillow(tmp_path / "a.png", noise(9, 9, 8))
    with_chunks(path, chunk(b"pHYs", struct.pack(">IIB", across, down, unit)))
    scan = open_scan(path)
    assert scan.ppi == (None if ppi is None else pytest.approx(ppi))
    assert len(scan.notes) == (ppi is not None)


def test_exif_chunk(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[274], exif[282], exif[283], exif[296] = 8, 400, 400, 2
    scan = open_scan(save_pillow(tmp_path / "a.png", noise(4, 9, 8), exif=exif))
    assert (scan.width, scan.height) == (4, 9)
    assert scan.ppi == (400, 400)


@pytest.mark.parametrize(
    ("kind", "data"),
    [(b"sRGB", b"\0"), (b"gAMA", struct.pack(">I", 100000)), (b"cICP", b"\x09\x10\x00\x01")],
)
def test_colour_chunks_are_named_and_change_nothing(
    tmp_path: Path, kind: bytes, data: bytes
) -> None:
    pixels = noise(9, 9, 8)
    path = save_pillow(tmp_path / "a.png", pixels)
    with_chunks(path, chunk(kind, data))
    scan = open_scan(path)
    expected = f"its {kind.decode()} chunk, which names a colour encoding, is not used"
    assert scan.notes == (expected,)
    np.testing.assert_array_equal(whole(scan), pixels)


def test_damaged_profile_is_noted_and_nothing_is_printed(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    pixels = noise(9, 9, 8)
    path = save_pillow(tmp_path / "a.png", pixels)
    with_chunks(path, chunk(b"iCCP", b"x\0\0" + zlib.compress(PROFILE)[:-20]))
    scan = open_scan(path)
    assert scan.profile is None
    assert scan.notes == ("its embedded profile is damaged and is not used",)
    np.testing.assert_array_equal(whole(scan), pixels)
    assert capfd.readouterr() == ("", "")


def test_interlaced(tmp_path: Path) -> None:
    """Adam7 (W3C PNG, clause 8), written by hand with filter 0 throughout."""
    pixels = noise(11, 13, 8)
    passes = [(0, 0, 8, 8), (0, 4, 8, 8), (4, 0, 8, 4), (0, 2, 4, 4)]
    passes += [(2, 0, 4, 2), (0, 1, 2, 2), (1, 0, 2, 1)]
    raw = b"".join(
        b"\0" + row.tobytes()
        for top, left, down, across in passes
        for row in pixels[top::down, left::across]
    )
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", 13, 11, 8, 2, 0, 0, 1))
    path = tmp_path / "a.png"
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", zlib.compress(raw)) + chunk(b"IEND", b"")
    )
    np.testing.assert_array_equal(read_whole(path), pixels)


@pytest.mark.parametrize(
    ("mode", "words"),
    [
        ("L", "grey"),
        ("LA", "grey with alpha"),
        ("P", "palette"),
        ("I;16", "grey"),
        ("1", "grey"),
    ],
)
def test_other_kinds_are_refused(tmp_path: Path, mode: str, words: str) -> None:
    path = tmp_path / "odd.png"
    Image.new(mode, (9, 9)).save(path)
    with pytest.raises(ScanError, match=rf"odd\.png is (a )?{words}.*: scan it again in colour"):
        open_scan(path)


@pytest.mark.parametrize("lost", [1, 4, 12, 13, 40, 500, 3000])
@pytest.mark.parametrize("bits", [8, 16])
def test_truncated_file_is_refused(tmp_path: Path, lost: int, bits: int) -> None:
    path = tmp_path / "a.png"
    data = imagecodecs.png_encode(noise(40, 50, bits))
    path.write_bytes(data[:-lost])
    with pytest.raises(ScanError, match=r"a\.png is cut short.*scan it again"):
        open_scan(path)


def test_truncated_pixels_with_an_end_are_refused(tmp_path: Path) -> None:
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", 50, 40, 8, 2, 0, 0, 0))
    rows = zlib.compress(bytes(151 * 20))
    path = tmp_path / "a.png"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", rows) + chunk(b"IEND", b""))
    with pytest.raises(ScanError, match=r"a\.png is damaged"):
        read_whole(path)


def test_flipped_bit_is_refused(tmp_path: Path) -> None:
    data = bytearray(imagecodecs.png_encode(noise(40, 50, 16)))
    data[len(data) // 2] ^= 4
    path = tmp_path / "a.png"
    path.write_bytes(data)
    with pytest.raises(ScanError, match=r"a\.png is damaged \(IDAT: CRC error\)"):
        read_whole(path)


def test_picture_beyond_an_imaging_librarys_limit_opens(tmp_path: Path) -> None:
    """Pillow refuses more than 179 million pixels; a merged painting has more."""
    path = tmp_path / "large.png"
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", 20000, 16000, 8, 2, 0, 0, 0))
    packer = zlib.compressobj(1)
    row = bytes(1) + bytes([7, 8, 9]) * 20000
    body = io.BytesIO()
    for _ in range(16000):
        body.write(packer.compress(row))
    body.write(packer.flush())
    with path.open("wb") as file:
        file.write(b"\x89PNG\r\n\x1a\n" + header)
        file.write(chunk(b"IDAT", body.getvalue()) + chunk(b"IEND", b""))
    with pytest.raises(Image.DecompressionBombError):
        Image.open(path)
    scan = open_scan(path)
    assert (scan.width, scan.height) == (20000, 16000)
