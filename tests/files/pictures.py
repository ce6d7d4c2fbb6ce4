"""Small pictures and ways to compare them, for the tests of this room."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.files.images import open_scan
from colormatch.model import Scan, Window


def noise(height: int, width: int, bits: int, seed: int = 1) -> NDArray[Any]:
    """Give pixels without any pattern: every misplaced value shows."""
    rng = np.random.default_rng(seed)
    return rng.integers(0, 2**bits, (height, width, 3)).astype(f"u{bits // 8}")


def smooth(height: int, width: int, seed: int = 1) -> NDArray[np.uint8]:
    """Give an 8-bit picture that a JPEG keeps well."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:height, :width] / 40
    phases = rng.uniform(0, 6, (2, 3))
    waves = np.sin(x[..., None] + phases[0]) * np.cos(y[..., None] + phases[1])
    return np.asarray(128 + 90 * waves).astype(np.uint8)


def whole(scan: Scan) -> NDArray[Any]:
    return scan.read(Window(row=0, column=0, height=scan.height, width=scan.width))


def read_whole(path: Path) -> NDArray[Any]:
    scan = open_scan(path)
    pixels = whole(scan)
    scan.close()
    return pixels


def random_windows(height: int, width: int, count: int = 12, seed: int = 2) -> list[Window]:
    rng = np.random.default_rng(seed)
    windows = []
    for _ in range(count):
        row, column = int(rng.integers(height)), int(rng.integers(width))
        tall, wide = (
            int(rng.integers(1, height - row + 1)),
            int(rng.integers(1, width - column + 1)),
        )
        windows.append(Window(row=row, column=column, height=tall, width=wide))
    return windows


def part(pixels: NDArray[Any], window: Window) -> NDArray[Any]:
    rows = slice(window.row, window.row + window.height)
    return pixels[rows, window.column : window.column + window.width]
