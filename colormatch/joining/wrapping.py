"""Bleed for canvas wraps: the picture's edges mirrored outward, row by row.

The margin above the picture shows its first rows upside down, the margin
below its last ones; the rows in question, as many as the margin is wide, are
kept as the codes that go into the file: about 90 MB for 40 mm at 600 ppi
around a picture 16 000 pixels wide. Rendering them twice would save that and
cost the time.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.errors import InputError

MM_PER_INCH = 25.4


def wrap_pixels(millimetres: float, ppi: float, *, width: int, height: int) -> int:
    """Give the margin's width in whole pixels.

    Parameters
    ----------
    millimetres : float
        On each side.
    ppi : float
        Of the picture.
    width, height : int
        Of the picture, pixels.

    Raises
    ------
    InputError
        If it is below 0 or wider than the picture that is to be mirrored.
    """
    if not millimetres >= 0:
        raise InputError(f"a wrap of {millimetres:g} mm: give a width of 0 mm or more")
    margin = round(millimetres / MM_PER_INCH * ppi)
    side = min(width, height)
    if margin > side:
        widest = side / ppi * MM_PER_INCH
        raise InputError(
            f"a wrap of {millimetres:g} mm is wider than the picture, which has only "
            f"{widest:.0f} mm to mirror: give --wrap {int(widest)}mm or less"
        )
    return margin


def wrapped(blocks: Iterable[NDArray[Any]], margin: int, *, height: int) -> Iterator[NDArray[Any]]:
    """Surround a picture with its mirrored edges.

    Parameters
    ----------
    blocks : iterable of ndarray, shape (rows, width, 3)
        Consecutive full-width blocks, ``height`` rows in all.
    margin : int
        Pixels on each side, at most ``width`` and ``height``.
    height : int
        Of the picture without margins.

    Yields
    ------
    ndarray of shape (rows, width + 2 * margin, 3)
        Consecutive blocks, ``height + 2 * margin`` rows in all; the outermost
        row and column of the picture are repeated first.
    """
    if not margin:
        yield from blocks
        return
    first: list[NDArray[Any]] = []
    last: deque[NDArray[Any]] = deque()
    seen = 0
    for block in blocks:
        if seen < margin:
            first.append(block)
            if seen + len(block) >= margin:
                yield from _flushed(first, margin)
        else:
            yield _widened(block, margin)
        seen += len(block)
        if seen > height - margin:
            last.append(block[max(height - margin - (seen - len(block)), 0) :])
    yield from (_widened(block[::-1], margin) for block in reversed(last))


def _flushed(first: list[NDArray[Any]], margin: int) -> Iterator[NDArray[Any]]:
    """Give the upper margin, then the blocks it was made of."""
    left = margin
    mirrored = []
    for block in first:
        mirrored.append(block[:left][::-1])
        left -= len(mirrored[-1])
    for block in (*reversed(mirrored), *first):
        yield _widened(block, margin)
    first.clear()


def _widened(block: NDArray[Any], margin: int) -> NDArray[Any]:
    left, right = block[:, :margin][:, ::-1], block[:, -margin:][:, ::-1]
    return np.concatenate([left, block, right], axis=1)
