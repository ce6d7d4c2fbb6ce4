"""Pictures whose format must be decoded whole: done once, on the first read."""

from __future__ import annotations

import threading
from collections.abc import Callable

from colormatch.files.pixels import Pixels
from colormatch.model import Window


class DecodedWhole:
    """Holds a picture from the first read until it is closed."""

    def __init__(self, decode: Callable[[], Pixels]) -> None:
        self._decode = decode
        self._pixels: Pixels | None = None
        self._lock = threading.Lock()

    def read(self, window: Window) -> Pixels:
        """Give a copy of the window, (height, width, 3), decoding if need be."""
        with self._lock:
            if self._pixels is None:
                self._pixels = self._decode()
            pixels = self._pixels
        rows = slice(window.row, window.row + window.height)
        columns = slice(window.column, window.column + window.width)
        return pixels[rows, columns, :3].copy()

    def close(self) -> None:
        """Let go of the pixels; a later read decodes again."""
        with self._lock:
            self._pixels = None
