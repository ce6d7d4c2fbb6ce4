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
"""When no more than these are left unread, the rest is decoded as well."""
UNREAD, IN_WORK, FILLED = range(3)
"""States of a row."""
ROOM_LEFT = 2.0
"""Free space on the disk must be this many times what a scan takes."""


def unpacked(scan: Scan, folder: str | os.PathLike[str]) -> Scan:
    """Give the same scan, decoded into a temporary file as it is first read.

    Parameters
    ----------
    scan : Scan
        Best read once in full rows, in any order, which fills the file on the way.
    folder : path-like
        Where the temporary file goes, as large as the pixels: 6 bytes each of
        16-bit scans. It has no name where the system allows that and is gone
        when the scan is closed, however the program ends.

    Returns
    -------
    Scan
        Its `Scan.read` may be called from several threads, which decode side by side.
        The scan itself, unchanged, where its windows cost nothing to read anyway or the
        folder has no room: reading is then slower, never different.
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
    """A file of plain pixels, filled where it is first asked for."""

    def __init__(self, scan: Scan, file: IO[bytes]) -> None:
        self._scan = scan
        self._file = file
        self._dtype = np.dtype(np.uint8 if scan.bits == 8 else np.uint16)
        self._rows = np.full(scan.height, UNREAD, np.uint8)
        self._whole: NDArray[Any] | None = None
        self._map: mmap.mmap | None = None
        self._spoilt = False
        self._lock = threading.Lock()
        self._settled = threading.Condition(self._lock)

    def read(self, window: Window) -> Pixels:
        """Give a window of the scan."""
        if self._whole is not None:
            return self._copied(window)
        rows = slice(window.row, window.row + window.height)
        fresh = self._filled(self._claimed(rows))
        self._filled(self._claimed_rest())
        if len(fresh) == 1 and len(fresh[0]) == window.height:
            columns = slice(window.column, window.column + window.width)
            whole = window.width == self._scan.width
            return fresh[0] if whole else fresh[0][:, columns].copy()
        return self._stored(window)

    def _claimed(self, rows: slice) -> list[slice]:
        """Give those of the rows that nobody has read yet, in runs, for this thread to read."""
        with self._lock:
            if self._spoilt:
                return []
            unread = rows.start + np.flatnonzero(self._rows[rows] == UNREAD)
            self._rows[unread] = IN_WORK
        runs = np.split(unread, np.flatnonzero(np.diff(unread) > 1) + 1) if len(unread) else []
        return [slice(int(run[0]), int(run[-1]) + 1) for run in runs]

    def _claimed_rest(self) -> list[slice]:
        """Give what is left once that is little: a scan read whole is to be let go of."""
        with self._lock:
            working = (self._rows == IN_WORK).any()
            if working or np.count_nonzero(self._rows == UNREAD) >= ROWS:
                return []
        return self._claimed(slice(0, self._scan.height))

    def _filled(self, runs: list[slice]) -> list[Pixels]:
        """Decode runs of full rows, and put them into the file."""
        fresh: list[Pixels] = []
        done = 0
        try:
            for rows in runs:
                height = rows.stop - rows.start
                window = Window(row=rows.start, column=0, height=height, width=self._scan.width)
                fresh.append(self._scan.read(window))
                self._put(rows, fresh[-1])
                done += 1
        finally:
            with self._settled:
                for rows in runs[done:]:
                    self._rows[rows] = UNREAD
                self._settled.notify_all()
        return fresh

    def _put(self, rows: slice, pixels: Pixels) -> None:
        left = np.ascontiguousarray(pixels).view(np.uint8).reshape(-1).data
        with self._lock:
            try:
                self._file.seek(rows.start * self._scan.width * 3 * self._dtype.itemsize)
                while len(left):
                    left = left[self._file.write(left) :]
            except (OSError, ValueError):
                # The disk filled up meanwhile, or the file was closed: go on without.
                self._spoilt = True
                self._file.close()
                return
            self._rows[rows] = FILLED
            if (self._rows == FILLED).all():
                self._finish()

    def _finish(self) -> None:
        self._map = mmap.mmap(self._file.fileno(), 0, access=mmap.ACCESS_READ)
        self._scan.close()
        shape = (self._scan.height, self._scan.width, 3)
        self._whole = np.frombuffer(self._map, self._dtype).reshape(shape)

    def _stored(self, window: Window) -> Pixels:
        """Give a window from the file as far as it has grown, else from the scan.

        Rows that other threads are reading are waited for: once all are filled the scan
        is closed, and must not be in use.
        """
        rows = slice(window.row, window.row + window.height)
        with self._settled:
            self._settled.wait_for(lambda: self._spoilt or not (self._rows[rows] == IN_WORK).any())
            if not self._spoilt and (self._rows[rows] == FILLED).all():
                columns = slice(window.column, window.column + window.width)
                return self._from_file(rows)[:, columns].copy()
        return self._scan.read(window)

    def _copied(self, window: Window) -> Pixels:
        whole, mapped = self._whole, self._map
        if whole is None or mapped is None:
            return self._scan.read(window)
        columns = slice(window.column, window.column + window.width)
        pixels: Pixels = whole[window.row : window.row + window.height, columns].copy()
        if hasattr(mmap, "MADV_DONTNEED"):
            # Mapped pages would count as memory in use although they are copied.
            mapped.madvise(mmap.MADV_DONTNEED)
        return pixels

    def _from_file(self, rows: slice) -> NDArray[Any]:
        """Read full rows."""
        width = self._scan.width * 3
        self._file.seek(rows.start * width * self._dtype.itemsize)
        pixels: NDArray[Any] = np.empty((rows.stop - rows.start, self._scan.width, 3), self._dtype)
        into = pixels.view(np.uint8).reshape(-1).data
        while len(into):
            count = self._file.readinto(into)  # type: ignore[attr-defined]
            into = into[count:]
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
