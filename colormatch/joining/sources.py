"""Where the renderer takes a tile's pixels from, each part of the file decoded once.

A tile that lies upright on the canvas, or upside down, is read by bands of
rows in step with the canvas: what two bands share is kept, the rest forgotten.
A tile turned by a quarter would be needed by bands of columns, and most files
would be decoded whole for every band; such a tile is decoded once into an
uncompressed temporary file, on disk and not in memory, and read from there by
window. The file has no name where the system allows it, and goes with the
rendering in any case.
"""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from colormatch.errors import OutputError
from colormatch.model import FloatArray, Window

Pixels = NDArray[np.uint8] | NDArray[np.uint16]

SPOOL_ROWS = 64
"""Rows copied at a time; a common height of strips in files."""
TURNED = 0.1
"""Rows crossed per column of the canvas from which a tile counts as turned."""


def nothing() -> None:
    """Let go of nothing: the default of `RenderTile.release`."""


@dataclass(frozen=True, kw_only=True, eq=False)
class RenderTile:
    """One scan as the renderer sees it.

    Attributes
    ----------
    name : str
        How messages call it.
    width, height : int
        Pixels of the scan.
    bits : int
        8 or 16, per channel as read.
    read : callable
        ``read(window)`` gives RGB of the scan; called from one thread.
    correct : callable
        ``correct(pixels, first_row, first_column)`` gives linear light of the
        output space, a new float32 array, for any window of the scan. Called
        from several threads; a pixel's result must not depend on its window.
    scan_from_canvas : callable
        Canvas pixels (N, 2), also a little outside the tile, to scan pixels.
    gain : ndarray of float32, shape (h, w) or (h, w, 3), or None
        To multiply light by, on a grid of means over ``gain_step`` pixels.
    gain_step : float
        Scan pixels per step of that grid.
    valid : Window or None
        The part of the scan that may be used; None for all of it.
    release : callable
        Told when the file is not needed for now: `read` may follow once more.
    """

    name: str
    width: int
    height: int
    bits: int
    read: Callable[[Window], Pixels]
    correct: Callable[[Pixels, int, int], NDArray[np.float32]]
    scan_from_canvas: Callable[[FloatArray], FloatArray]
    gain: NDArray[np.float32] | None = None
    gain_step: float = 1.0
    valid: Window | None = None
    release: Callable[[], None] = nothing

    @property
    def usable(self) -> Window:
        """The part of the scan that may be used."""
        return self.valid or Window(row=0, column=0, height=self.height, width=self.width)

    @property
    def dtype(self) -> type[np.uint8] | type[np.uint16]:
        """Of the pixels as read."""
        return np.uint8 if self.bits == 8 else np.uint16


class Held(Protocol):
    """Pixels of a scan that can be had at once, from any thread."""

    def window(self, window: Window) -> Pixels:
        """Give a window of the scan."""


class Source(Protocol):
    """A tile's pixels, given band after band."""

    def rows(self, start: int, stop: int) -> Held:
        """Give what can serve any window within these rows."""

    def rest(self) -> None:
        """Let go of what a band without this tile need not hold."""

    def close(self) -> None:
        """Let go of everything."""


@dataclass(frozen=True, kw_only=True, eq=False)
class HeldRows:
    """Consecutive full-width rows, the first of them row ``start`` of the scan."""

    start: int
    pixels: NDArray[Any]

    def window(self, window: Window) -> Pixels:
        """Give a window of the scan; it must lie within the rows."""
        top = window.row - self.start
        if top < 0 or top + window.height > len(self.pixels):
            raise IndexError(
                f"rows {window.row}+{window.height} are not held: {self.start}+{len(self.pixels)}"
            )
        return self.pixels[top : top + window.height, window.column : window.column + window.width]


class RowBands:
    """Reads a tile by bands of rows, in either order, sharing what overlaps."""

    def __init__(self, tile: RenderTile) -> None:
        self._tile = tile
        self._held = HeldRows(start=0, pixels=np.empty((0, tile.width, 3), tile.dtype))

    def rows(self, start: int, stop: int) -> HeldRows:
        """Give these rows; those of the band before are not read again."""
        old = self._held
        low = max(start, old.start)
        high = min(stop, old.start + len(old.pixels))
        if low >= high:
            low = high = stop
        pixels: NDArray[Any] = np.empty((stop - start, self._tile.width, 3), self._tile.dtype)
        pixels[low - start : high - start] = old.pixels[low - old.start : high - old.start]
        for first, last in ((start, low), (high, stop)):
            if first < last:
                pixels[first - start : last - start] = self._read(first, last)
        self._held = HeldRows(start=start, pixels=pixels)
        return self._held

    def _read(self, first: int, last: int) -> Pixels:
        return self._tile.read(
            Window(row=first, column=0, height=last - first, width=self._tile.width)
        )

    def rest(self) -> None:
        """Forget the rows and release the tile, if it holds any."""
        if len(self._held.pixels):
            self.close()

    def close(self) -> None:
        """Forget the rows and release the tile."""
        self._held = HeldRows(start=0, pixels=self._held.pixels[:0].copy())
        self._tile.release()


class Spooled:
    """A tile decoded into a temporary file on first use, read there by window."""

    def __init__(self, tile: RenderTile, folder: Path | None) -> None:
        self._tile = tile
        self._folder = folder
        self._file: IO[bytes] | None = None
        self._lock = threading.Lock()

    def rows(self, start: int, stop: int) -> Spooled:  # noqa: ARG002
        """Give itself: every window can be had once the tile is decoded."""
        if self._file is None:
            try:
                self._file = self._copied()
            except OSError as error:
                raise OutputError(self._no_room(error)) from error
            self._tile.release()
        return self

    def _copied(self) -> IO[bytes]:
        file: IO[bytes] = tempfile.TemporaryFile(dir=self._folder, buffering=0)  # noqa: SIM115
        try:
            for row in range(0, self._tile.height, SPOOL_ROWS):
                height = min(SPOOL_ROWS, self._tile.height - row)
                window = Window(row=row, column=0, height=height, width=self._tile.width)
                _write_all(file, self._tile.read(window).tobytes())
        except BaseException:
            file.close()
            raise
        return file

    def _no_room(self, error: OSError) -> str:
        size = self._tile.width * self._tile.height * 3 * self._tile.bits // 8
        where = self._folder or tempfile.gettempdir()
        return (
            f"the turned tile {self._tile.name} needs {size / 1e6:.0f} MB for a temporary file "
            f"in {where} ({error.strerror or error}): make room there"
        )

    def window(self, window: Window) -> Pixels:
        """Give a window of the scan."""
        if self._file is None:
            raise IndexError("the tile is not decoded yet")
        pixels: NDArray[Any] = np.empty((window.height, window.width, 3), self._tile.dtype)
        pixel = 3 * self._tile.bits // 8
        with self._lock:
            for k, row in enumerate(pixels):
                place = (window.row + k) * self._tile.width + window.column
                self._file.seek(place * pixel)
                _read_all(self._file, memoryview(row).cast("B"))
        return pixels

    def rest(self) -> None:
        """Keep the file: it may be needed again and takes no memory."""

    def close(self) -> None:
        """Remove the file and release the tile."""
        if self._file is not None:
            self._file.close()
            self._file = None
        self._tile.release()


def _write_all(file: IO[bytes], data: bytes) -> None:
    left = memoryview(data)
    while len(left):
        left = left[file.write(left) :]


def _read_all(file: IO[bytes], into: memoryview) -> None:
    while len(into):
        count = file.readinto(into)  # type: ignore[attr-defined]
        if not count:
            raise OutputError("a temporary file was cut short while in use: run it again")
        into = into[count:]


def source_of(tile: RenderTile, centre: tuple[float, float], folder: Path | None) -> Source:
    """Choose how to take a tile's pixels by how it lies on the canvas.

    Parameters
    ----------
    tile : RenderTile
        Whose pixels.
    centre : tuple of float
        The canvas's centre, (x, y): the tile's slope is taken there.
    folder : Path or None
        For temporary files; None for the system's own.
    """
    x, y = centre
    ends = tile.scan_from_canvas(np.array([[x - 0.5, y], [x + 0.5, y]]))
    turned = abs(float(ends[1, 1] - ends[0, 1])) > TURNED
    return Spooled(tile, folder) if turned else RowBands(tile)
