"""Linear light to the integers of a file, fast and without banding in the darks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.spaces import RGBSpace

SLOTS = 65535
"""Entries of the table; it is indexed by the square root of light.

Indexed by light itself the darkest tones would share entries: the root keeps
the error near one 16-bit step everywhere.
"""


class Encoder:
    """Encodes blocks for one space and bit depth by table.

    Parameters
    ----------
    space : RGBSpace
        Whose transfer curve to use.
    bits : int
        8 or 16.
    """

    def __init__(self, space: RGBSpace, bits: int) -> None:
        kind = {8: np.uint8, 16: np.uint16}[bits]
        light = (np.arange(SLOTS + 1) / SLOTS) ** 2
        top = 2**bits - 1
        self.table: NDArray[np.uint8] | NDArray[np.uint16] = np.round(
            space.encode(light) * top
        ).astype(kind)

    def encode(self, light: NDArray[np.float32]) -> NDArray[np.uint8] | NDArray[np.uint16]:
        """Encode linear light, 0 to 1, of any shape; the input is used as scratch."""
        import cv2

        np.sqrt(light, out=light)
        light *= SLOTS
        light += 0.5
        coded: NDArray[np.uint8] | NDArray[np.uint16]
        coded = cv2.LUT(  # type: ignore[assignment]  # its stub forgets the depth
            light.astype(np.uint16), self.table[None]
        )
        return coded
