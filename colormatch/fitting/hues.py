"""A root-polynomial as a table over hues, quick enough for every pixel.

What it adds to the 3x3 grows with the light and depends otherwise on the shares of red
and blue alone, so one small table of two dimensions holds all of it, the fading outside
the paints' hull included.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.fitting.maps import DARKEST, ColourMap
from colormatch.model import FloatArray

CELLS = 256
"""Steps of the table from a share of 0 to one of 1."""
WIDEST = 32000
"""Columns that the library behind takes at a time."""


@dataclass(frozen=True, kw_only=True, eq=False)
class HueTable:
    """What is added per total light.

    Attributes
    ----------
    added_at : ndarray of shape (CELLS + 1, CELLS + 1, 3)
        Output light by the share of blue (rows) and of red (columns).
    cells_from_light : ndarray of shape (3, 3)
        Red and blue relative to the paper, in cells of the table, and the total.
    """

    added_at: NDArray[np.float32]
    cells_from_light: NDArray[np.float32]

    def added(self, light: NDArray[np.float32]) -> NDArray[np.float32]:
        """Give what to add to the 3x3's result for light of shape (rows, columns, 3)."""
        import cv2

        if light.shape[1] > WIDEST:
            half = light.shape[1] // 2
            parts = [self.added(np.ascontiguousarray(p)) for p in np.split(light, [half], axis=1)]
            return np.concatenate(parts, axis=1)
        planes = cv2.split(cv2.transform(light, self.cells_from_light))
        red, blue, total = (np.asarray(plane, dtype=np.float32) for plane in planes)
        np.maximum(total, np.float32(DARKEST), out=total)
        found = cv2.remap(
            self.added_at,
            red / total,
            blue / total,
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return np.asarray(cv2.multiply(found, cv2.merge([total] * 3)), dtype=np.float32)


def hue_table(colour_map: ColourMap, rgb_from_xyz: FloatArray) -> HueTable | None:
    """Tabulate a map for an output space; None for a plain 3x3."""
    if colour_map.squares is None:
        return None
    part = np.linspace(0.0, 1.0, CELLS + 1)
    blue, red = np.meshgrid(part, part, indexing="ij")
    added = colour_map.bend(np.stack([red, blue], axis=-1)) @ rgb_from_xyz.T
    red_green_blue = 1.0 / colour_map.white
    wanted = np.array([[CELLS, 0, 0], [0, 0, CELLS], [1, 1, 1]])
    return HueTable(
        added_at=np.ascontiguousarray(added, dtype=np.float32),
        cells_from_light=(wanted * red_green_blue).astype(np.float32),
    )
