"""Overviews against plain means in float64."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from colormatch.files.images import open_scan
from colormatch.files.overview import overview
from colormatch.files.pixels import Pixels
from colormatch.model import Window
from tests.files.pictures import noise


@pytest.mark.parametrize("step", [1, 2, 3, 8, 31])
@pytest.mark.parametrize("bits", [8, 16])
def test_blocks_are_means(tmp_path: Path, bits: int, step: int) -> None:
    pixels = noise(67, 95, bits)
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, pixels, photometric="rgb", rowsperstrip=5)
    rows, columns = 67 // step, 95 // step
    blocks = pixels[: rows * step, : columns * step].reshape(rows, step, columns, step, 3)
    small = overview(open_scan(path), step)
    assert small.dtype == np.float32
    expected = blocks.mean(axis=(1, 3)) / (2**bits - 1)
    np.testing.assert_allclose(small, expected, rtol=0, atol=3e-7)


def test_many_strips_and_the_largest_step(tmp_path: Path) -> None:
    pixels = noise(1300, 2100, 16)
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, pixels, photometric="rgb", compression="zlib", rowsperstrip=64)
    blocks = pixels[:1280, :2048].reshape(5, 256, 8, 256, 3).mean(axis=(1, 3)) / 65535
    np.testing.assert_allclose(overview(open_scan(path), 256), blocks, rtol=0, atol=1e-6)


def test_every_row_is_read_once(tmp_path: Path) -> None:
    # So that a copy made on the way is whole; rows beyond the last block included.
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, noise(1303, 1007, 16), photometric="rgb")
    scan = open_scan(path)
    rows = np.zeros(1303, int)

    def read(window: Window) -> Pixels:
        assert (window.column, window.width) == (0, 1007)
        rows[window.row : window.row + window.height] += 1
        return scan.read(window)

    overview(replace(scan, read=read), 8)
    assert (rows == 1).all()


def test_white_is_one_and_black_is_zero(tmp_path: Path) -> None:
    pixels = np.zeros((16, 16, 3), np.uint8)
    pixels[:8] = 255
    Image.fromarray(pixels).save(tmp_path / "a.png")
    small = overview(open_scan(tmp_path / "a.png"), 8)
    np.testing.assert_allclose(small[0], 1, rtol=0, atol=1e-7)
    assert not small[1].any()


def test_progress_rises_to_one(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, noise(3000, 1000, 16), photometric="rgb")
    told: list[float] = []
    overview(open_scan(path), 2, progress=lambda _, done: told.append(done))
    assert len(told) > 1
    assert told == sorted(told)
    assert told[-1] == 1


@pytest.mark.parametrize("step", [0, -1, 10, 257])
def test_senseless_steps_are_refused(tmp_path: Path, step: int) -> None:
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, noise(9, 300, 8), photometric="rgb")
    with pytest.raises(ValueError, match=rf"step must be .*\(got {step}\)"):
        overview(open_scan(path), step)
