"""Pixels of TIFF files written by tifffile, OpenCV (libtiff) and Pillow, by window."""

from __future__ import annotations

import itertools
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import psutil
import pytest
import tifffile
from PIL import Image

from colormatch.errors import ScanError
from colormatch.files.images import open_scan
from colormatch.files.tiff_segments import Segments
from colormatch.model import Window
from tests.files.pictures import noise, part, random_windows, read_whole, smooth, whole

LAYOUTS: list[dict[str, Any]] = [
    {},
    {"rowsperstrip": 1},
    {"rowsperstrip": 16},
    {"tile": (32, 48)},
    {"bigtiff": True, "rowsperstrip": 16},
    {"byteorder": ">", "rowsperstrip": 16},
    {"byteorder": ">", "tile": (16, 16), "bigtiff": True},
]
CODECS: list[dict[str, Any]] = [
    {},
    {"compression": "lzw"},
    {"compression": "lzw", "predictor": True},
    {"compression": "zlib", "predictor": True},
    {"compression": "deflate"},
    {"compression": "zstd", "predictor": True},
    {"compression": "packbits"},
]


@pytest.mark.parametrize("planar", [False, True])
@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize(("layout", "codec"), list(itertools.product(LAYOUTS, CODECS)), ids=str)
def test_every_window_is_exact(
    tmp_path: Path, layout: dict[str, Any], codec: dict[str, Any], bits: int, planar: bool
) -> None:
    pixels = noise(83, 101, bits)
    path = tmp_path / "a.tif"
    stored = np.moveaxis(pixels, 2, 0) if planar else pixels
    kind = "separate" if planar else "contig"
    tifffile.imwrite(path, stored, photometric="rgb", planarconfig=kind, **layout, **codec)
    scan = open_scan(path)
    assert (scan.width, scan.height, scan.bits, scan.format) == (101, 83, bits, "tiff")
    for window in random_windows(83, 101):
        read = scan.read(window)
        assert read.dtype == pixels.dtype
        assert read.dtype.isnative
        np.testing.assert_array_equal(read, part(pixels, window))
    scan.close()


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("codec", [1, 5, 8, 32946], ids=["none", "lzw", "deflate", "old deflate"])
def test_files_written_by_libtiff(tmp_path: Path, codec: int, bits: int) -> None:
    pixels = noise(60, 40, bits)
    path = tmp_path / "a.tif"
    cv2.imwrite(str(path), pixels[..., ::-1], [cv2.IMWRITE_TIFF_COMPRESSION, codec])
    np.testing.assert_array_equal(read_whole(path), pixels)


@pytest.mark.parametrize("codec", ["raw", "tiff_lzw", "tiff_adobe_deflate", "packbits"])
def test_files_written_by_pillow(tmp_path: Path, codec: str) -> None:
    pixels = noise(60, 40, 8)
    path = tmp_path / "a.tif"
    Image.fromarray(pixels).save(path, compression=codec)
    np.testing.assert_array_equal(read_whole(path), pixels)


@pytest.mark.parametrize("tile", [None, (32, 32)])
def test_jpeg_inside_tiff_equals_the_librarys_own_reading(
    tmp_path: Path, tile: tuple[int, int] | None
) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, smooth(80, 96), photometric="rgb", compression="jpeg", tile=tile)
    np.testing.assert_array_equal(read_whole(path), tifffile.imread(path))


def test_luma_and_chroma_inside_jpeg_arrive_as_rgb(tmp_path: Path) -> None:
    path, pixels = tmp_path / "a.tif", smooth(80, 96)
    Image.fromarray(pixels).convert("YCbCr").save(path, compression="jpeg", quality=95)
    with tifffile.TiffFile(path) as file:
        assert file.pages.first.photometric == tifffile.PHOTOMETRIC.YCBCR
    difference = read_whole(path).astype(int) - pixels
    assert np.abs(difference).mean() < 3


def test_alpha_is_dropped_with_a_note(tmp_path: Path) -> None:
    pixels = noise(20, 30, 16)
    path = tmp_path / "a.tif"
    alpha = noise(20, 30, 16, seed=5)[..., :1]
    stored = np.concatenate([pixels, alpha], axis=2)
    tifffile.imwrite(path, stored, photometric="rgb", extrasamples=["unassalpha"])
    scan = open_scan(path)
    assert scan.notes == ("its alpha channel is dropped",)
    np.testing.assert_array_equal(whole(scan), pixels)
    scan.close()


def test_reading_goes_on_after_closing(tmp_path: Path) -> None:
    path, pixels = tmp_path / "a.tif", noise(20, 30, 16)
    tifffile.imwrite(path, pixels, photometric="rgb", compression="zlib")
    scan = open_scan(path)
    whole(scan)
    scan.close()
    np.testing.assert_array_equal(whole(scan), pixels)
    scan.close()


@pytest.mark.parametrize("codec", CODECS, ids=str)
@pytest.mark.parametrize("kept", [0.02, 0.3, 0.7, 0.99])
def test_truncated_file_is_refused(tmp_path: Path, codec: dict[str, Any], kept: float) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, noise(64, 64, 16), photometric="rgb", rowsperstrip=8, **codec)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * kept)])
    with pytest.raises(ScanError, match=r"a\.tif is (cut short|damaged).*scan it again"):
        read_whole(path)


def test_truncated_file_with_its_directory_at_the_end_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    cv2.imwrite(str(path), noise(64, 64, 16))
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    with pytest.raises(ScanError, match=r"a\.tif is damaged"):
        open_scan(path)


def test_damaged_strip_is_refused_when_read(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, smooth(64, 64), photometric="rgb", rowsperstrip=8, compression="zlib")
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        start, length = page.dataoffsets[4], page.databytecounts[4]
    data = bytearray(path.read_bytes())
    data[start : start + length] = bytes(length)
    path.write_bytes(data)
    scan = open_scan(path)
    scan.read(Window(row=0, column=0, height=32, width=64))
    with pytest.raises(ScanError, match=r"a\.tif is damaged"):
        scan.read(Window(row=30, column=0, height=10, width=64))
    scan.close()


def test_compressed_file_is_read_in_bounded_memory(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    height, width = 6000, 3000  # 108 MB
    row = noise(1, width, 16)
    tifffile.imwrite(
        path, np.repeat(row, height, axis=0), photometric="rgb", rowsperstrip=64, compression="zlib"
    )
    scan = open_scan(path)
    scan.read(Window(row=0, column=0, height=256, width=width))  # the libraries are in memory
    before, most = psutil.Process().memory_info().rss, 0
    for top in range(0, height - 256, 256):
        read = scan.read(Window(row=top, column=0, height=256, width=width))
        np.testing.assert_array_equal(read[::50], np.repeat(row, 6, axis=0))
        most = max(most, psutil.Process().memory_info().rss)
    scan.close()
    assert most - before < 60e6


def test_file_beyond_four_gigabytes(tmp_path: Path) -> None:
    """900 megapixels, almost all of them a hole in a sparse file."""
    path, side, pixels = tmp_path / "a.tif", 30_000, noise(5, 7, 16)
    shape = (side, side, 3)
    stored = tifffile.memmap(path, shape=shape, dtype="u2", photometric="rgb", bigtiff=True)
    stored[-5:, -7:] = pixels
    stored.flush()
    del stored
    assert path.stat().st_size > 2**32
    scan = open_scan(path)
    corner = Window(row=side - 6, column=side - 8, height=6, width=8)
    read = scan.read(corner)
    np.testing.assert_array_equal(read[1:, 1:], pixels)
    assert not read[0].any()
    scan.close()


@pytest.mark.parametrize("codec", [{}, {"compression": "zlib"}], ids=str)
def test_several_threads_may_read_at_once(tmp_path: Path, codec: dict[str, Any]) -> None:
    pixels = noise(900, 300, 16)
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, pixels, photometric="rgb", rowsperstrip=16, **codec)
    scan = open_scan(path)
    windows = random_windows(900, 300, count=60)
    with ThreadPoolExecutor(4) as pool:
        for window, read in zip(windows, pool.map(scan.read, windows), strict=True):
            np.testing.assert_array_equal(read, part(pixels, window))
    scan.close()


def test_a_segment_that_two_threads_want_is_decoded_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pixels = noise(512, 300, 16)
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, pixels, photometric="rgb", compression="zlib", rowsperstrip=64)
    decoded: list[int] = []
    real = Segments._decode

    def slowly(self: Segments, index: int) -> Any:
        decoded.append(index)
        time.sleep(0.02)
        return real(self, index)

    monkeypatch.setattr(Segments, "_decode", slowly)
    scan = open_scan(path)
    windows = [Window(row=row, column=0, height=40, width=300) for row in range(0, 480, 40)]
    with ThreadPoolExecutor(4) as pool:
        for window, found in zip(windows, pool.map(scan.read, windows), strict=True):
            np.testing.assert_array_equal(found, pixels[window.row : window.row + 40])
    assert sorted(decoded) == list(range(8))


def test_damage_is_told_to_every_thread_that_waits(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(
        path, noise(512, 300, 16), photometric="rgb", compression="zlib", rowsperstrip=512
    )
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 2000] = bytes(2000)
    path.write_bytes(data)
    scan = open_scan(path)

    def said(row: int) -> str:
        with pytest.raises(ScanError) as caught:
            scan.read(Window(row=row, column=0, height=40, width=300))
        return str(caught.value)

    with ThreadPoolExecutor(4) as pool:
        told = set(pool.map(said, range(0, 480, 40)))
    assert len(told) == 1
    assert "copy or scan it again" in told.pop()
