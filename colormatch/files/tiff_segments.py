"""The strips and tiles of one TIFF page, read by window in bounded memory."""

from __future__ import annotations

import mmap
import threading
from collections import OrderedDict
from concurrent.futures import Future
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.errors import ScanError
from colormatch.files.parallel import in_order
from colormatch.files.pixels import Pixels
from colormatch.model import Window

CACHE_BYTES = 16 << 20
JPEG = 7


class Segments:
    """Pixels of a page: uncompressed ones straight from the mapped file.

    Compressed segments are decoded when a window touches them, by two threads,
    and the last ones are kept: at least one row of them, else about 16 MB.
    """

    def __init__(self, path: Path, page: Any) -> None:
        self._path = path
        self._tiled = bool(page.is_tiled)
        self._height, self._width = int(page.imagelength), int(page.imagewidth)
        self._planar = int(page.planarconfig) == 2
        self._samples = 1 if self._planar else int(page.samplesperpixel)
        self._dtype = np.dtype(f"{page.parent.byteorder}u{page.bitspersample // 8}")
        self._size = self._segment_size(page)
        self._down = -(-self._height // self._size[0])
        self._across = -(-self._width // self._size[1])
        self._starts: tuple[int, ...] = page.dataoffsets
        self._lengths: tuple[int, ...] = page.databytecounts
        self._decoder = page.decode
        self._jpeg = {}
        if int(page.compression) == JPEG:
            self._jpeg = {"jpegtables": page.jpegtables, "jpegheader": page.jpegheader}
        self.raw = int(page.compression) == 1 and page.predictor == 1 and page.fillorder == 1
        self._refuse_truncation()
        self._cache: OrderedDict[int, Future[NDArray[Any]]] = OrderedDict()
        self._lock = threading.Lock()
        self._map: mmap.mmap | None = None

    def _segment_size(self, page: Any) -> tuple[int, int]:
        if self._tiled:
            size = int(page.tilelength), int(page.tilewidth)
        else:
            size = min(int(page.rowsperstrip), self._height), self._width
        if min(*size, self._height, self._width) < 1:
            raise ScanError(f"{self._path} is damaged: it has no pixels; copy or scan it again")
        return size

    def _refuse_truncation(self) -> None:
        count = self._down * self._across * (3 if self._planar else 1)
        starts = np.array(self._starts[:count], dtype=np.float64)
        lengths = np.array(self._lengths[:count], dtype=np.float64)
        if self.raw and len(lengths) == count:
            lengths = np.array([self._raw_bytes(index) for index in range(count)], np.float64)
        size = self._path.stat().st_size
        if len(starts) < count or len(lengths) < count:
            raise ScanError(f"{self._path} is damaged: strips are missing; copy or scan it again")
        if not lengths.all() or not starts.all() or (starts + lengths > size).any():
            raise ScanError(f"{self._path} is cut short: pixels are missing; copy or scan it again")

    def _raw_shape(self, index: int) -> tuple[int, int, int]:
        rows, columns = self._size
        if not self._tiled:
            # Only the last strip of a plane may be shorter.
            rows = min(rows, self._height - index % self._down * rows)
        return rows, columns, self._samples

    def _raw_bytes(self, index: int) -> int:
        rows, columns, samples = self._raw_shape(index)
        return rows * columns * samples * self._dtype.itemsize

    def read(self, window: Window) -> Pixels:
        """Give the window, (height, width, 3), in the machine's own byte order."""
        shape = (window.height, window.width, 3)
        out: NDArray[Any] = np.empty(shape, self._dtype.newbyteorder("="))
        needed = self._touched(window)
        for index, pixels in zip(needed, self._segments(needed), strict=True):
            self._paste(out, window, index, pixels)
        self._forget_pages()
        return out

    def _forget_pages(self) -> None:
        # Mapped pages would count as memory in use until the file is closed,
        # although all that is needed of them has been copied.
        with self._lock:
            if self._map is not None and hasattr(mmap, "MADV_DONTNEED"):
                self._map.madvise(mmap.MADV_DONTNEED)

    def _touched(self, window: Window) -> list[int]:
        rows, columns = self._size
        down = range(window.row // rows, -(-(window.row + window.height) // rows))
        across = range(window.column // columns, -(-(window.column + window.width) // columns))
        planes = range(3 if self._planar else 1)
        area = self._down * self._across
        return [p * area + r * self._across + c for r in down for p in planes for c in across]

    def _paste(self, out: NDArray[Any], window: Window, index: int, pixels: NDArray[Any]) -> None:
        plane, place = divmod(index, self._down * self._across)
        row, column = divmod(place, self._across)
        top = row * self._size[0] - window.row
        left = column * self._size[1] - window.column
        bottom = min(top + pixels.shape[0], window.height)
        right = min(left + pixels.shape[1], window.width)
        rows, columns = slice(max(top, 0), bottom), slice(max(left, 0), right)
        part = pixels[max(-top, 0) : bottom - top, max(-left, 0) : right - left]
        if self._planar:
            out[rows, columns, plane] = part[..., 0]
        else:
            out[rows, columns] = part[..., :3]

    def _segments(self, indexes: list[int]) -> Any:
        if self.raw:
            return map(self._view, indexes)
        if len(indexes) == 1:
            return map(self._decoded, indexes)
        return in_order(self._decoded, indexes)

    def _mapped(self) -> mmap.mmap:
        with self._lock:
            if self._map is None:
                with self._path.open("rb") as file:
                    self._map = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
            return self._map

    def _view(self, index: int) -> NDArray[Any]:
        shape = self._raw_shape(index)
        start, count = self._starts[index], int(np.prod(shape))
        return np.frombuffer(self._mapped(), self._dtype, count, start).reshape(shape)

    def _bytes(self, start: int, length: int) -> bytes:
        # Read, not mapped: mapped pages of a compressed file would count as
        # memory in use although each is needed once.
        with self._path.open("rb") as file:
            file.seek(start)
            return file.read(length)

    def _decoded(self, index: int) -> NDArray[Any]:
        """Give a segment; one that another thread is decoding is waited for."""
        with self._lock:
            known = self._cache.get(index)
            if known is None:
                own = self._cache[index] = Future()
            else:
                self._cache.move_to_end(index)
        if known is not None:
            return known.result()
        try:
            own.set_result(self._decode(index))
        except BaseException as error:
            with self._lock:
                self._cache.pop(index, None)
            own.set_exception(error)
            raise
        with self._lock:
            while len(self._cache) > self._kept:
                self._cache.popitem(last=False)
        return own.result()

    @property
    def _kept(self) -> int:
        """Segments kept: a row of them, or as many as the memory set aside holds."""
        one_row = self._across * (3 if self._planar else 1)
        return max(one_row, CACHE_BYTES // max(self._raw_bytes(0), 1))

    def _decode(self, index: int) -> NDArray[Any]:
        data = self._bytes(self._starts[index], self._lengths[index])
        pixels, _, shape = self._decoder(data, index, **self._jpeg)
        if pixels is None or pixels.shape[1] < shape[1]:
            raise ScanError(f"{self._path} is damaged: a strip is empty; copy or scan it again")
        return np.asarray(pixels[0])

    def close(self) -> None:
        """Let go of the decoded segments and of the file; a later read opens it again."""
        with self._lock:
            self._cache.clear()
            # A view still in use elsewhere keeps the map alive until it goes.
            with suppress(BufferError):
                if self._map is not None:
                    self._map.close()
            self._map = None
