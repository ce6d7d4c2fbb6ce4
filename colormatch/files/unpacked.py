"""Scans unpacked on disk, for work that comes back to the same places many times.

Merging looks at a scan five times over: small, for its strip, where it overlaps
its neighbours, along its seams, and at last for the picture. Decoding is most of
the cost of each look, and decoders of PNG and JPEG hold the whole picture in
memory. So what the first look decodes is put, as it goes by, into a temporary
file of plain pixels; every later look copies from there.
"""

from __future__ import annotations

import mmap
import os
import shutil
import tempfile
import threading
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from colormatch.files.pixels import Pixels
from colormatch.model import Scan, Window

ROWS = 256
"""Decoded at a time, and how close to the end the rest is decoded as well."""
ROOM_LEFT = 2.0
"""Free space on the disk must be this many times what a scan takes."""


def unpacked(scan: Scan, folder: str | os.PathLike[str]) -> Scan:
    """Give the same scan, decoded into a temporary file as it is first read.

    Parameters
    ----------
    scan : Scan
        Best read once from top to bottom, which fills the file on the way.
    folder : path-like
        Where the temporary file goes, as large as the pixels: 6 bytes each of
        16-bit scans. It has no name where the system allows that and is gone
        when the scan is closed, however the program ends.

    Returns
    -------
    Scan
        Its `Scan.read` may be called from several threads. The scan itself,
        unchanged, where its windows cost nothing to read anyway or the folder
        has no room: reading is then slower, never different.
    """
    if scan.direct or not _has_room(scan, folder):
        return scan
    try:
        file: IO[bytes] = tempfile.TemporaryFile(dir=folder, buffering=0)  # noqa: SIM115
    except OSError:
        return scan
    copy = _Copy(scan, file)
    return replace(scan, read=copy.read, close=copy.close, direct=True)


def _has_room(scan: Scan, folder: str | os.PathLike[str]) -> bool:
    try:
        free = shutil.disk_usage(Path(folder)).free
    except OSError:
        return False
    return free > ROOM_LEFT * scan.width * scan.height * 3 * scan.bits // 8


class _Copy:
    """A file of plain pixels, filled from the top as far as was asked for."""

    def __init__(self, scan: Scan, file: IO[bytes]) -> None:
        self._scan = scan
        self._file = file
        self._dtype = np.dtype(np.uint8 if scan.bits == 8 else np.uint16)
        self._filled = 0
        self._whole: NDArray[Any] | None = None
        self._map: mmap.mmap | None = None
        self._spoilt = False
        self._lock = threading.Lock()

    def read(self, window: Window) -> Pixels:
        """Give a window of the scan."""
        if self._whole is None:
            with self._lock:
                if self._whole is None:
                    return self._read_while_filling(window)
        return self._copied(window)

    def _read_while_filling(self, window: Window) -> Pixels:
        bottom = window.row + window.height
        if self._spoilt:
            return self._scan.read(window)
        if window.row != self._filled:
            self._fill(bottom)
            return self._scan.read(window) if self._spoilt else self._copied(window)
        rows = self._scan.read(replace(window, column=0, width=self._scan.width))
        self._append(rows)
        if self._scan.height - self._filled < ROWS or self._scan.format != "tiff":
            # The last rows, fewer than a step of the small picture; and PNG and
            # JPEG at once, since they hold all pixels in memory until closed.
            self._fill(self._scan.height)
        return rows[:, window.column : window.column + window.width].copy()

    def _fill(self, bottom: int) -> None:
        while self._filled < bottom and not self._spoilt:
            height = min(ROWS, bottom - self._filled)
            window = Window(row=self._filled, column=0, height=height, width=self._scan.width)
            self._append(self._scan.read(window))

    def _append(self, rows: Pixels) -> None:
        left = np.ascontiguousarray(rows).view(np.uint8).reshape(-1).data
        try:
            while len(left):
                left = left[self._file.write(left) :]
        except OSError:
            # The disk filled up meanwhile: go on without.
            self._spoilt = True
            self._file.close()
            return
        self._filled += len(rows)
        if self._filled == self._scan.height:
            self._finish()

    def _finish(self) -> None:
        self._map = mmap.mmap(self._file.fileno(), 0, access=mmap.ACCESS_READ)
        self._scan.close()
        shape = (self._scan.height, self._scan.width, 3)
        self._whole = np.frombuffer(self._map, self._dtype).reshape(shape)

    def _copied(self, window: Window) -> Pixels:
        columns = slice(window.column, window.column + window.width)
        rows = slice(window.row, window.row + window.height)
        if self._whole is not None and self._map is not None:
            pixels: Pixels = self._whole[rows, columns].copy()
            if hasattr(mmap, "MADV_DONTNEED"):
                # Mapped pages would count as memory in use although they are copied.
                self._map.madvise(mmap.MADV_DONTNEED)
            return pixels
        return self._from_file(rows)[:, columns].copy()

    def _from_file(self, rows: slice) -> NDArray[Any]:
        """Read full rows while the file is still growing."""
        width = self._scan.width * 3
        self._file.seek(rows.start * width * self._dtype.itemsize)
        pixels: NDArray[Any] = np.empty((rows.stop - rows.start, self._scan.width, 3), self._dtype)
        into = pixels.view(np.uint8).reshape(-1).data
        while len(into):
            count = self._file.readinto(into)  # type: ignore[attr-defined]
            into = into[count:]
        self._file.seek(0, os.SEEK_END)
        return pixels

    def close(self) -> None:
        """Remove the file."""
        with self._lock:
            self._whole, mapped, self._map = None, self._map, None
            # A view still in use elsewhere keeps the map alive until it goes.
            with suppress(BufferError):
                if mapped is not None:
                    mapped.close()
            self._file.close()
            self._spoilt = True
        self._scan.close()
