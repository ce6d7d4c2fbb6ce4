"""One scan as the renderer sees it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from colormatch.compiled import library
from colormatch.compiled.correcting import four_wide, multiply
from colormatch.joining.warping import stretched
from colormatch.model import FloatArray, Window

Pixels = NDArray[np.uint8] | NDArray[np.uint16]


@dataclass(frozen=True, kw_only=True, eq=False)
class RenderTile:
    """One scan as the renderer sees it.

    Attributes
    ----------
    name : str
        How messages call it.
    width, height : int
        Pixels of the scan.
    bits : int
        8 or 16, per channel as read.
    read : callable
        ``read(window)`` gives RGB of the scan; called from several threads, and
        several times for the same place: it should cost little.
    correct : callable
        ``correct(pixels, first_row, first_column)`` gives linear light of the
        output space, a new float32 array, for any window of the scan. Called
        from several threads; a pixel's result must not depend on its window.
    scan_from_canvas : callable
        Canvas pixels (N, 2), also a little outside the tile, to scan pixels.
    gain : ndarray of float32, shape (h, w) or (h, w, 3), or None
        To multiply light by, on a grid of means over ``gain_step`` pixels.
    gain_step : float
        Scan pixels per step of that grid.
    valid : Window or None
        The part of the scan that may be used; None for all of it.
    """

    name: str
    width: int
    height: int
    bits: int
    read: Callable[[Window], Pixels]
    correct: Callable[[Pixels, int, int], NDArray[np.float32]]
    scan_from_canvas: Callable[[FloatArray], FloatArray]
    gain: NDArray[np.float32] | None = None
    gain_step: float = 1.0
    valid: Window | None = None

    @property
    def usable(self) -> Window:
        """The part of the scan that may be used."""
        return self.valid or Window(row=0, column=0, height=self.height, width=self.width)

    def light(self, window: Window) -> NDArray[np.float32]:
        """Give linear light of the output space in a window of the scan, levelled.

        Parameters
        ----------
        window : Window
            Inside the scan.

        Returns
        -------
        ndarray of float32, shape (height, width, 3)
        """
        light = self.correct(self.read(window), window.row, window.column)
        if self._wide_gain is not None:
            multiply(light, self._wide_gain, self.gain_step, (window.row, window.column))
        elif self.gain is not None:
            light *= stretched(self.gain, self.gain_step, window)
        return light

    @cached_property
    def _wide_gain(self) -> NDArray[np.float32] | None:
        if self.gain is None or not library.available():
            return None
        return four_wide(np.broadcast_to(np.atleast_3d(self.gain), (*self.gain.shape[:2], 3)))
