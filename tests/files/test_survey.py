"""A survey against plain numpy over the whole picture."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile

from colormatch.files.images import open_scan
from colormatch.files.overview import overview
from colormatch.files.survey import LANES, LINES, survey
from tests.files.pictures import noise


@pytest.mark.parametrize("step", [1, 2, 5])
@pytest.mark.parametrize("bits", [8, 16])
def test_extremes_lines_and_lanes(tmp_path: Path, bits: int, step: int) -> None:
    pixels = noise(403, 331, bits)
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, pixels, photometric="rgb", rowsperstrip=7)
    seen = survey(open_scan(path), step)
    top = 2**bits - 1
    rows, columns = 403 // step, 331 // step
    blocks = pixels[: rows * step, : columns * step].reshape(rows, step, columns, step, 3)
    np.testing.assert_array_equal(seen.lightest, blocks.max(axis=(1, 3)))
    np.testing.assert_array_equal(seen.darkest, blocks.min(axis=(1, 3)))
    np.testing.assert_array_equal(seen.small, overview(open_scan(path), step))
    kept = np.unique(np.linspace(0, rows - 1, min(LINES, rows)).astype(int))
    by_row = blocks.reshape(rows, step, columns * step, 3).mean(axis=1)
    np.testing.assert_allclose(seen.lines, by_row[kept] / top, atol=1e-6)
    np.testing.assert_array_equal(seen.line_rows, kept * step + (step - 1) / 2)
    lanes = min(LANES, columns * step)
    wide = columns * step // lanes * lanes
    means = pixels[: rows * step, :wide].reshape(rows * step, lanes, -1, 3).mean(axis=2)
    # OpenCV rounds the mean of codes to a code.
    np.testing.assert_allclose(seen.lanes, means / top, atol=0.51 / top)


def test_many_strips_agree_with_one(tmp_path: Path) -> None:
    pixels = noise(1500, 1200, 16)
    path = tmp_path / "a.tif"
    tifffile.imwrite(path, pixels, photometric="rgb", rowsperstrip=64)
    seen = survey(open_scan(path), 4)
    blocks = pixels.reshape(375, 4, 300, 4, 3)
    np.testing.assert_array_equal(seen.lightest, blocks.max(axis=(1, 3)))
    assert seen.lanes.shape == (1500, LANES, 3)
    assert seen.lines.shape == (LINES, 1200, 3)
