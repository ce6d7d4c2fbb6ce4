"""Blocks of rows as they come, regrouped into blocks as a file needs them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.files.form import PictureForm
from colormatch.files.pixels import Pixels


def regrouped(blocks: Iterable[Pixels], rows: int, form: PictureForm) -> Iterator[Pixels]:
    """Yield blocks of exactly ``rows`` rows, the last one shorter if need be.

    Each is fresh memory: the giver may use a block's memory again at once.

    Raises
    ------
    ValueError
        If a block has another width or type, or the rows do not add up.
    """
    height, shape, dtype = form.height, (form.width, 3), np.dtype(f"u{form.bits // 8}")
    made, filled, done = _fresh(rows, height, shape, dtype), 0, 0
    for block in blocks:
        if block.ndim != 3 or block.shape[1:] != shape or block.dtype != dtype:
            expected = f"(rows, {form.width}, 3) {dtype}"
            raise ValueError(f"blocks must be {expected} (got {block.shape} {block.dtype})")
        if done + filled + len(block) > height:
            raise ValueError(f"blocks must have {height} rows together (got more)")
        taken = 0
        while taken < len(block):
            count = min(len(made) - filled, len(block) - taken)
            made[filled : filled + count] = block[taken : taken + count]
            filled, taken = filled + count, taken + count
            if filled == len(made):
                done += filled
                yield made
                made, filled = _fresh(rows, height - done, shape, dtype), 0
    if done < height:
        raise ValueError(f"blocks must have {height} rows together (got {done + filled})")


def _fresh(rows: int, left: int, shape: tuple[int, int], dtype: np.dtype[Any]) -> NDArray[Any]:
    return np.empty((min(rows, left), *shape), dtype)
