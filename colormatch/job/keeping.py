"""The pixels last read from a scan, so that a strip is decoded once."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from colormatch.model import Window

Pixels = NDArray[np.uint8] | NDArray[np.uint16]
WINDOWS = 2
"""Windows kept: one or two strips."""
LEAST_PIXELS = 100_000
"""Smaller windows are read again as quickly."""


class Kept:
    """Reads a scan and keeps the last large windows."""

    def __init__(self, read: Callable[[Window], Pixels]) -> None:
        self._read = read
        self._kept: deque[tuple[Window, Pixels]] = deque(maxlen=WINDOWS)

    def read(self, window: Window) -> Pixels:
        """Give the pixels of a window, which nobody may change."""
        for outer, pixels in self._kept:
            row, column = window.row - outer.row, window.column - outer.column
            inside = row >= 0 and column >= 0
            inside = inside and row + window.height <= outer.height
            if inside and column + window.width <= outer.width:
                return pixels[row : row + window.height, column : column + window.width]
        pixels = self._read(window)
        if window.width * window.height >= LEAST_PIXELS:
            self._kept.append((window, pixels))
        return pixels
