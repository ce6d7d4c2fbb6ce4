"""A small version of a scan, made strip by strip, two strips at a time."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from colormatch.files.parallel import in_order
from colormatch.files.pixels import Pixels
from colormatch.model import FloatArray, Progress, Scan, Window, silent

STRIP_BYTES = 2 << 20
"""Memory for one strip: what is decoded is still near the processor when it is reduced."""


Watch = Callable[[Pixels, FloatArray, int], None]
"""Shown each strip of whole blocks, the sums down its blocks, and its first row of blocks.

The sums have shape (rows of blocks, columns of pixels, 3), in codes; both are read only.
It is called from two threads, each strip by one of them.
"""


def overview(
    scan: Scan, step: int, *, progress: Progress = silent, watch: Watch | None = None
) -> FloatArray:
    """Give the means of ``step`` x ``step`` blocks of encoded values.

    Parameters
    ----------
    scan : Scan
        Read once, from top to bottom.
    step : int
        Pixels along the side of a block, 1 to the smaller side of the scan,
        at most 256. Rows and columns beyond the last whole block are read with the rest, so
        that a scan has been seen whole, and left out.
    progress : Progress, optional
        Told after each strip.
    watch : callable, optional
        Sees every strip while it is in memory, so that nothing is read twice.

    Returns
    -------
    ndarray of float32, shape (height // step, width // step, 3)
        0 to 1; pixel (0, 0) covers the scan's pixels 0 to ``step`` - 1, so that
        its centre lies at (``step`` - 1) / 2 in the scan.

    Raises
    ------
    ValueError
        If ``step`` is outside that range.
    ScanError
        If the file turns out to be damaged.
    """
    if not 1 <= step <= min(scan.width, scan.height, 256):
        raise ValueError(f"step must be 1 to the scan's smaller side, at most 256 (got {step})")
    rows, columns = scan.height // step, scan.width // step
    small = np.empty((rows, columns, 3), np.float32)
    deep = max(1, STRIP_BYTES // (step * scan.width * 3 * (scan.bits // 8)))

    def look(row: int) -> int:
        count = min(deep, rows - row)
        bottom = scan.height if row + count == rows else (row + count) * step
        window = Window(row=row * step, column=0, height=bottom - row * step, width=scan.width)
        pixels = scan.read(window)[: count * step, : columns * step]
        sums = _block_means(pixels, step, out=small[row : row + count])
        if watch is not None:
            watch(pixels, sums, row)
        return row + count

    for done in in_order(look, range(0, rows, deep)):
        progress("reading", done / rows)
    small *= np.float32(1 / (step * (2**scan.bits - 1)))
    return small


def _block_means(pixels: Pixels, step: int, *, out: FloatArray) -> FloatArray:
    """Put the block means of a strip of whole blocks, times ``step``, into ``out``; give the sums.

    Down the columns whole numbers are summed, exactly: 256 x 65535 still fits
    the 24 bits of a float32. Along the rows OpenCV takes the mean.
    """
    import cv2

    rows, columns = out.shape[:2]
    flat = pixels.reshape(len(pixels), -1)
    sums = np.empty((rows, flat.shape[1]), np.float32)
    for row in range(rows):
        block = flat[row * step : (row + 1) * step]
        cv2.reduce(block, 0, cv2.REDUCE_SUM, dst=sums[row : row + 1], dtype=cv2.CV_32F)
    by_column = sums.reshape(rows, -1, 3)
    cv2.resize(by_column, (columns, rows), dst=out, interpolation=cv2.INTER_AREA)
    return by_column
