"""Connected areas of a map of blocks, as boxes in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.inspecting.records import Box

MOST_PLACES = 12
"""Boxes given; more would hide the picture they are drawn on."""

Mask = NDArray[np.bool_]
Pitch = tuple[float, float]
"""Width and height of a block, mm."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Areas:
    """Connected areas, largest first.

    Attributes
    ----------
    labels : ndarray of int, shape (h, w)
        0 outside all of them.
    numbers : ndarray of int, shape (N,)
        Label of each.
    boxes : ndarray of int, shape (N, 4)
        Column, row, width, height of each, blocks.
    sizes : ndarray of shape (N,)
        Blocks in each.
    """

    labels: NDArray[np.int32]
    numbers: NDArray[np.intp]
    boxes: NDArray[np.int32]
    sizes: NDArray[np.int32]

    def keep(self, which: Mask) -> Areas:
        """Give some of them."""
        return Areas(
            labels=self.labels,
            numbers=self.numbers[which],
            boxes=self.boxes[which],
            sizes=self.sizes[which],
        )

    @property
    def mask(self) -> Mask:
        """Where they are."""
        return np.asarray(np.isin(self.labels, self.numbers))

    def places(self, pitch: Pitch, most: int = MOST_PLACES) -> tuple[Box, ...]:
        """Give the largest as boxes in millimetres."""
        scale = np.array([*pitch, *pitch])
        return tuple(
            (float(x), float(y), float(w), float(h)) for x, y, w, h in self.boxes[:most] * scale
        )


def areas(mask: Mask) -> Areas:
    """Find the connected areas of a mask, (h, w); corners touch."""
    import cv2

    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    stats = np.asarray(stats, dtype=np.int32)[1:]
    order = np.argsort(-stats[:, cv2.CC_STAT_AREA], kind="stable")
    return Areas(
        labels=np.asarray(labels, np.int32),
        numbers=order + 1,
        boxes=stats[order, :4],
        sizes=stats[order, cv2.CC_STAT_AREA],
    )


def widened(mask: Mask, blocks: float) -> Mask:
    """Grow a mask by so many blocks all round."""
    import cv2

    reach = max(1, round(blocks))
    kernel = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    return np.asarray(cv2.dilate(mask.astype(np.uint8), kernel) > 0)


def gathered(found: Areas, gap: float) -> Areas:
    """Give the areas with those up to ``gap`` blocks apart counted as one; boxes stay tight."""
    import cv2

    mask = found.mask
    _, labels = cv2.connectedComponents(widened(mask, gap / 2).astype(np.uint8), connectivity=8)
    kept = np.where(mask, np.asarray(labels), 0).astype(np.int32)
    numbers, sizes = np.unique(kept[mask], return_counts=True)
    boxes = [_box(kept == number) for number in numbers]
    order = np.argsort(-sizes, kind="stable")
    return Areas(
        labels=kept,
        numbers=numbers[order].astype(np.intp),
        boxes=np.array(boxes, np.int32).reshape(-1, 4)[order],
        sizes=sizes[order].astype(np.int32),
    )


def _box(mask: Mask) -> tuple[int, int, int, int]:
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    return (
        int(columns[0]), int(rows[0]),
        int(columns[-1] - columns[0] + 1), int(rows[-1] - rows[0] + 1),
    )  # fmt: skip
