"""A scan in small, with what a mean hides: extremes of each block, lines at full resolution."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.files.overview import overview
from colormatch.files.pixels import Pixels
from colormatch.model import FloatArray, Progress, Scan, Survey, silent

LINES = 96
"""Full-width lines kept, spread evenly down the scan."""
LANES = 64
"""Lanes side by side in which every row's mean is kept."""


def survey(scan: Scan, step: int, *, progress: Progress = silent) -> Survey:
    """Look at the whole scan once.

    Parameters
    ----------
    scan : Scan
        Read once, from top to bottom.
    step : int
        As for `overview`.
    progress : Progress, optional
        Told after each strip.

    Returns
    -------
    Survey
        Some 30 MB for 35 megapixels.

    Raises
    ------
    ValueError
        If ``step`` is outside its range.
    ScanError
        If the file turns out to be damaged.
    """
    notes = _Notes(scan, step)
    small = overview(scan, step, progress=progress, watch=notes.watch)
    return notes.survey(small)


class _Notes:
    """Collects what the strips show as they pass."""

    def __init__(self, scan: Scan, step: int) -> None:
        rows, columns = scan.height // step, scan.width // step
        kind = np.uint8 if scan.bits == 8 else np.uint16
        self.step, self.full = step, float(2**scan.bits - 1)
        self.lightest = np.empty((rows, columns, 3), kind)
        self.darkest = np.empty((rows, columns, 3), kind)
        self.kept = np.unique(np.linspace(0, rows - 1, min(LINES, rows)).astype(int))
        self.lines = np.empty((len(self.kept), columns * step, 3), np.float32)
        self.lanes = np.empty((rows * step, min(LANES, columns * step), 3), np.float32)

    def watch(self, pixels: Pixels, sums: FloatArray, row: int) -> None:
        """Take note of one strip."""
        import cv2

        count, step = len(sums), self.step
        here = slice(row, row + count)
        self.lightest[here] = _extremes(pixels, step, cv2.REDUCE_MAX)
        self.darkest[here] = _extremes(pixels, step, cv2.REDUCE_MIN)
        among = (self.kept >= row) & (self.kept < row + count)
        self.lines[among] = sums[self.kept[among] - row]
        lanes = self.lanes.shape[1]
        # A whole number of pixels per lane lets OpenCV take its fast way.
        wide = pixels.shape[1] // lanes * lanes
        means = cv2.resize(pixels[:, :wide], (lanes, len(pixels)), interpolation=cv2.INTER_AREA)
        self.lanes[row * step : row * step + len(pixels)] = means

    def survey(self, small: FloatArray) -> Survey:
        """Give everything in encoded values."""
        self.lines *= np.float32(1 / (self.step * self.full))
        self.lanes *= np.float32(1 / self.full)
        return Survey(
            step=self.step,
            small=small,
            lightest=self.lightest,
            darkest=self.darkest,
            lines=self.lines,
            line_rows=self.kept * self.step + (self.step - 1) / 2,
            lanes=self.lanes,
        )


def _extremes(pixels: Pixels, step: int, which: int) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """Give the largest or smallest code of each block and channel."""
    import cv2

    rows, columns = len(pixels) // step, pixels.shape[1] // step
    flat = pixels.reshape(len(pixels), -1)
    lines = np.empty((rows, flat.shape[1]), pixels.dtype)
    for row in range(rows):
        block = flat[row * step : (row + 1) * step]
        cv2.reduce(block, 0, which, dst=lines[row : row + 1])
    better = cv2.max if which == cv2.REDUCE_MAX else cv2.min
    wide = lines.reshape(rows * columns, 3 * step)
    left = step
    # By halves: few passes over wide rows are quicker than many over narrow ones.
    while left > 1:
        half = left // 2
        wide = better(wide[:, : 3 * (left - half)], wide[:, 3 * half : 3 * left])
        left -= half
    found: NDArray[np.uint8] | NDArray[np.uint16] = np.asarray(wide).reshape(rows, columns, 3)
    return found
