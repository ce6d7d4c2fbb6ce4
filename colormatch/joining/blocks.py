"""One block of the joined picture, from the windows of the tiles it shows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.joining.blending import LEVELS, blended, halo, with_halo
from colormatch.joining.places import Lattice
from colormatch.joining.records import Box
from colormatch.joining.sources import RenderTile
from colormatch.joining.warping import resampled
from colormatch.model import Window

NONE = 255
"""The label of pixels that no tile shows."""
Light = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True, eq=False)
class Picture:
    """What is to be rendered.

    Attributes
    ----------
    width, height : int
        Of the canvas, pixels; a crop or a turn is part of the tiles' mappings.
    tiles : tuple of RenderTile
        Their places in the tuple are their labels.
    labels : callable
        ``labels(window)`` gives, uint8 (h, w), which tile each pixel of the
        canvas is taken from; `NONE` where no tile is.
    blendable : callable
        ``blendable(window)`` gives, bool (h, w), where tiles truly agree and
        may be mixed. Both are called for any window inside the canvas,
        ``blendable`` from several threads.
    fill : tuple of float
        Linear light where there is no tile; white paper by default.
    levels : int
        Bands of the blend; 0 cuts hard everywhere.
    """

    width: int
    height: int
    tiles: tuple[RenderTile, ...]
    labels: Callable[[Window], NDArray[np.uint8]]
    blendable: Callable[[Window], NDArray[np.bool_]]
    fill: tuple[float, float, float] = (1.0, 1.0, 1.0)
    levels: int = LEVELS


@dataclass(frozen=True, kw_only=True, eq=False)
class Block:
    """A rendered block: its light or its codes, and what was counted in it."""

    pixels: NDArray[Any]
    uncovered: int
    outside: int = 0


@dataclass(frozen=True, kw_only=True, eq=False)
class Shown:
    """A tile's light in a canvas window; ``valid`` is where it shows anything."""

    window: Window
    light: Light
    valid: NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class Band:
    """A band of canvas rows and what is known to render it.

    Attributes
    ----------
    picture : Picture
        What it is a band of.
    window, outer : Window
        The band, and the band with its halo.
    labels : ndarray of uint8
        Of ``outer``.
    lattices : tuple of Lattice
        Each tile's exact places.
    """

    picture: Picture
    window: Window
    outer: Window
    labels: NDArray[np.uint8]
    lattices: tuple[Lattice, ...]

    def block(self, inner: Window) -> Block:
        """Render a window of the band."""
        picture = self.picture
        outer = with_halo(inner, picture.levels, picture.height, picture.width)
        labels = self.labels[_slices(outer, self.outer)]
        allowed = None
        if picture.levels and (labels != labels[0, 0]).any():
            allowed = picture.blendable(outer)
        if allowed is None or not allowed.any():
            labels = self.labels[_slices(inner, self.outer)]
            light, uncovered, _ = self._cut(labels, inner, 0)
            return Block(pixels=light, uncovered=int(np.count_nonzero(uncovered)))
        light, uncovered, shown = self._cut(labels, outer, halo(picture.levels))
        allowed &= ~uncovered
        near = _around_seams(labels, outer, picture.levels)
        part = _slices(near, outer)
        cut, labels, allowed = light[part], labels[part], allowed[part]
        differences = {k: _difference(k, s, cut, labels, allowed, near) for k, s in shown.items()}
        blended(cut, labels, differences, picture.levels)
        kept = _slices(inner, outer)
        return Block(pixels=light[kept], uncovered=int(np.count_nonzero(uncovered[kept])))

    def _cut(
        self, labels: NDArray[np.uint8], window: Window, reach: int
    ) -> tuple[Light, NDArray[np.bool_], dict[int, Shown]]:
        """Each pixel from its own tile; what nobody shows; each tile ``reach`` further."""
        numbers = present(labels)
        shown = {k: self._shown(k, box_of(labels == k, reach, window)) for k in numbers}
        if len(numbers) == 1 and (only := shown[numbers[0]]).valid.all() and NONE not in labels:
            return only.light, np.zeros(labels.shape, np.bool_), shown
        light = np.empty((*labels.shape, 3), np.float32)
        light[:] = self.picture.fill
        uncovered = np.ones(labels.shape, np.bool_)
        for number, tile in shown.items():
            part = _slices(tile.window, window)
            own = (labels[part] == number) & tile.valid
            np.copyto(light[part], tile.light, where=own[..., None])
            uncovered[part] &= ~own
        return light, uncovered, shown

    def _shown(self, number: int, window: Window) -> Shown:
        """Bring one tile's pixels to light and onto the canvas."""
        tile = self.picture.tiles[number]
        where = self.lattices[number].places(window)
        needed = where.needed(tile.width, tile.height)
        if needed is None:
            shape = (window.height, window.width)
            return Shown(
                window=window,
                light=np.zeros((*shape, 3), np.float32),
                valid=np.zeros(shape, np.bool_),
            )
        return Shown(
            window=window,
            light=resampled(tile.light(needed), where, needed.row, needed.column),
            valid=where.within(tile.usable),
        )


def _around_seams(labels: NDArray[np.uint8], frame: Window, levels: int) -> Window:
    """Give the window outside which blending changes nothing.

    It changes pixels up to a halo from a seam, and looks a halo further for that.
    """
    seam = np.zeros(labels.shape, np.bool_)
    seam[1:] |= labels[1:] != labels[:-1]
    seam[:, 1:] |= labels[:, 1:] != labels[:, :-1]
    box = box_of(seam, halo(levels), frame)
    wide = with_halo(box, levels, frame.row + frame.height, frame.column + frame.width)
    # Like the frame's, its first row and column lie where halving starts anew.
    top, left = max(wide.row, frame.row), max(wide.column, frame.column)
    height, width = wide.row + wide.height - top, wide.column + wide.width - left
    return Window(row=top, column=left, height=height, width=width)


def _difference(
    number: int,
    tile: Shown,
    cut: Light,
    labels: NDArray[np.uint8],
    allowed: NDArray[np.bool_],
    frame: Window,
) -> Light:
    """Give what a tile would change where another is shown and both may be mixed."""
    difference = np.zeros(cut.shape, np.float32)
    shown, whole = _box(tile.window), _box(frame)
    shared = shown.shared(whole)
    if shared is None:
        return difference
    part, own = shared.within(whole), shared.within(shown)
    mixed = allowed[part] & tile.valid[own] & (labels[part] != number)
    np.subtract(tile.light[own], cut[part], out=difference[part], where=mixed[..., None])
    return difference


def _box(window: Window) -> Box:
    """Turn rows and columns with sizes into ones with ends."""
    bottom, right = window.row + window.height, window.column + window.width
    return Box(top=window.row, bottom=bottom, left=window.column, right=right)


def _slices(window: Window, frame: Window) -> tuple[slice, slice]:
    """Where a window lies in an array that covers a larger one."""
    return _box(window).within(_box(frame))


def present(labels: NDArray[np.uint8]) -> list[int]:
    """Labels that occur, in order, without `NONE`."""
    import cv2

    if (lowest := int(labels.min())) == int(labels.max()):
        return [] if lowest == NONE else [lowest]
    counts = cv2.calcHist([np.ascontiguousarray(labels)], [0], None, [NONE + 1], [0, NONE + 1])
    return [int(k) for k in np.flatnonzero(np.asarray(counts).ravel()[:NONE])]


def box_of(mask: NDArray[np.bool_], reach: int, frame: Window) -> Window:
    """Give the window around a mask's pixels, grown by ``reach``, inside its frame."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    top, bottom = max(int(rows[0]) - reach, 0), min(int(rows[-1]) + 1 + reach, frame.height)
    left, right = max(int(columns[0]) - reach, 0), min(int(columns[-1]) + 1 + reach, frame.width)
    return Window(
        row=frame.row + top, column=frame.column + left, height=bottom - top, width=right - left
    )
