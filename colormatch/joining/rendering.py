"""The joined picture, block by block: never a tile or the result whole in memory.

The canvas is worked through in bands of rows, each cut into blocks. A block
takes from each tile it shows only the window it needs, brings it to linear
light, onto the canvas's grid, and, near a seam, mixes it with its neighbours.
Blocks are independent and their result does not depend on how the canvas is
cut into them. Two bands are in the making at a time, so memory grows with the
width of the canvas and not with its height.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.encoding import Encoder
from colormatch.colour.gamut import clip_to_gamut
from colormatch.joining.blending import with_halo
from colormatch.joining.blocks import Band, Block, Light, Picture
from colormatch.joining.places import Lattice, lattice
from colormatch.joining.sources import Pixels
from colormatch.model import Progress, Window, silent

ROWS, COLUMNS = 256, 512
"""Of a block: large beside its halo, small beside the processor's cache."""
BAND_PIXELS = 2_500_000
"""A wider canvas is cut into lower bands, down to a quarter of `ROWS`."""
THREADS = 2


@dataclass(kw_only=True)
class Tally:
    """Pixels counted so far.

    Attributes
    ----------
    uncovered : int
        Canvas pixels that no tile shows, filled.
    outside : int
        Pixels whose colour the output space cannot hold, as counted by the
        caller's rule.
    """

    uncovered: int = 0
    outside: int = 0


@dataclass(frozen=True, kw_only=True, eq=False)
class Renderer:
    """Renders a picture once, as consecutive full-width blocks of rows.

    Attributes
    ----------
    picture : Picture
        What to render.
    rows, columns : int
        Of a block; they change speed and memory, not the result. By default
        ``rows`` follows from the width of the canvas.
    progress : callable
        Told the share done.
    tally : Tally
        Complete when the last block has been given.
    """

    picture: Picture
    rows: int = 0
    columns: int = COLUMNS
    progress: Progress = silent
    tally: Tally = field(default_factory=Tally)

    def light(self) -> Iterator[Light]:
        """Give linear light, float32 (rows, width, 3); may lie outside 0 to 1."""
        yield from self._bands(lambda block: block)

    def encoded(
        self, encoder: Encoder, *, outside: Callable[[Light], int] | None = None
    ) -> Iterator[Pixels]:
        """Give the codes of a file, uint8 or uint16 (rows, width, 3).

        Parameters
        ----------
        encoder : Encoder
            Of the output space and depth.
        outside : callable, optional
            Counts pixels of a block of light that the space cannot hold;
            called from several threads. The sum is in `tally`.
        """

        def finish(block: Block) -> Block:
            lost = outside(block.pixels) if outside else 0
            codes = encoder.encode(clip_to_gamut(block.pixels, out=block.pixels))
            return Block(pixels=codes, uncovered=block.uncovered, outside=lost)

        yield from self._bands(finish)

    def _bands(self, finish: Callable[[Block], Block]) -> Iterator[NDArray[Any]]:
        picture = self.picture
        lattices = tuple(
            lattice(t.scan_from_canvas, picture.width, picture.height) for t in picture.tiles
        )

        def made(band: Band, window: Window) -> Block:
            return finish(band.block(window))

        waiting: list[list[Future[Block]]] = []
        with ThreadPoolExecutor(THREADS) as pool:
            try:
                for row in range(0, picture.height, self._rows):
                    band = self._band(row, lattices)
                    waiting.append(
                        [pool.submit(made, band, block) for block in self._blocks(band.window)]
                    )
                    if len(waiting) > 1:
                        yield self._row_block(waiting.pop(0), row)
                while waiting:
                    yield self._row_block(waiting.pop(0), picture.height)
            finally:
                for future in (f for futures in waiting for f in futures):
                    future.cancel()
                pool.shutdown()

    @property
    def _rows(self) -> int:
        return self.rows or min(max(BAND_PIXELS // self.picture.width, ROWS // 4), ROWS)

    def _blocks(self, band: Window) -> Iterator[Window]:
        for column in range(0, band.width, self.columns):
            width = min(self.columns, band.width - column)
            yield Window(row=band.row, column=column, height=band.height, width=width)

    def _row_block(self, futures: list[Future[Block]], rows_done: int) -> NDArray[Any]:
        blocks = [future.result() for future in futures]
        self.tally.uncovered += sum(block.uncovered for block in blocks)
        self.tally.outside += sum(block.outside for block in blocks)
        self.progress("joining", rows_done / self.picture.height)
        return np.concatenate([block.pixels for block in blocks], axis=1)

    def _band(self, row: int, lattices: tuple[Lattice, ...]) -> Band:
        """Look up the labels of a band and its halo."""
        picture = self.picture
        height = min(self._rows, picture.height - row)
        window = Window(row=row, column=0, height=height, width=picture.width)
        outer = with_halo(window, picture.levels, picture.height, picture.width)
        return Band(
            picture=picture,
            window=window,
            outer=outer,
            labels=picture.labels(outer),
            lattices=lattices,
        )
