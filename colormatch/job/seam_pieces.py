"""Pieces of a merge's picture across its seams, pixel by pixel, before and after.

What the tiles show is read window by window; what was written is kept from the
rows as they pass on their way to the file.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.gamut import clip_to_gamut
from colormatch.colour.spaces import RGBSpace, rgb_space
from colormatch.job.merge_seams import Joined
from colormatch.joining.blocks import Picture as Plan
from colormatch.joining.places import Lattice
from colormatch.joining.records import UNCOVERED, BoolArray, LabelArray
from colormatch.joining.refining import SeamPath
from colormatch.joining.sources import RenderTile
from colormatch.joining.warping import resampled
from colormatch.model import FloatArray, Window
from colormatch.views import CropView, Picture, Point

SIZE = (324, 250)
"""Width and height of a piece, pixels: whole on a phone, three abreast on a desk."""
MOST, FEWEST = 10, 3
"""Pieces shown: of so many pairs at most, and more than one of each if pairs are few."""
APART = 1.2
"""Sizes of a piece that two of the same pair are apart."""
LATTICE = 8
"""Canvas pixels between places computed exactly: fine for any scanner's carriage."""
ENDS = 8
"""Marks at most on a piece's rim for each line: a seam may zigzag there."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SeamPiece:
    """A piece of one seam; ``codes`` is filled as the rows pass."""

    pair: tuple[int, int]
    window: Window
    delta_e: float
    scanned: Picture
    matched: Picture
    ends: tuple[Point, ...]
    cuts: tuple[Point, ...]
    codes: NDArray[Any]


def seam_pieces(
    plan: Plan, paths: Sequence[SeamPath], space: RGBSpace, bits: int
) -> tuple[SeamPiece, ...]:
    """Choose the worst place of each seam and read what the tiles show there."""
    return tuple(_piece(plan, path, point, space, bits) for path, point in worst_places(paths))


def worst_places(paths: Sequence[SeamPath]) -> list[tuple[SeamPath, int]]:
    """Choose where to look: the largest ΔE2000 of each pair, the worst pairs first."""
    pairs = list(dict.fromkeys((min(p.plus, p.minus), max(p.plus, p.minus)) for p in paths))
    open_ = {pair: [p for p in paths if {p.plus, p.minus} == set(pair)] for pair in pairs}
    firsts = [found for pair in pairs if (found := _worst(open_[pair], []))]
    firsts.sort(key=lambda one: -float(one[0].delta_e[one[1]]))
    chosen = firsts[:MOST]
    while 0 < len(chosen) < FEWEST:
        more = [found for pair in pairs if (found := _worst(open_[pair], chosen))]
        if not more:
            break
        chosen.append(max(more, key=lambda one: float(one[0].delta_e[one[1]])))
    return chosen


def _worst(
    paths: Sequence[SeamPath], chosen: Sequence[tuple[SeamPath, int]]
) -> tuple[SeamPath, int] | None:
    """Find the largest difference of one pair that lies apart from those chosen."""
    best: tuple[SeamPath, int] | None = None
    for path in paths:
        values = np.nan_to_num(path.delta_e, nan=-1.0)
        for other, point in chosen:
            off = np.abs(path.points - other.points[point]) / (np.array(SIZE) * APART)
            values[off.max(axis=1) < 1] = -1.0
        k = int(np.argmax(values))
        if values[k] >= 0 and (best is None or values[k] > best[0].delta_e[best[1]]):
            best = path, k
    return best


def _piece(plan: Plan, path: SeamPath, point: int, space: RGBSpace, bits: int) -> SeamPiece:
    window = window_around(path.points[point], plan.width, plan.height)
    labels = plan.labels(window)
    pair = (path.minus, path.plus)
    sources = plain_cut(labels, window, path, pair)
    scanned, matched = _before(plan.tiles, sources, window, space)
    inside = _inside(path.points, window)
    return SeamPiece(
        pair=(min(pair), max(pair)),
        window=window,
        delta_e=float(np.nanmax(path.delta_e[inside])),
        scanned=scanned,
        matched=matched,
        ends=rim_crossings(labels),
        cuts=rim_crossings(sources),
        codes=np.zeros((window.height, window.width, 3), np.uint8 if bits == 8 else np.uint16),
    )


def window_around(point: FloatArray, width: int, height: int) -> Window:
    """Give a window of `SIZE` about a place, moved inside the canvas, smaller if that is."""
    wide, high = min(SIZE[0], width), min(SIZE[1], height)
    column = int(np.clip(round(float(point[0]) - wide / 2), 0, width - wide))
    row = int(np.clip(round(float(point[1]) - high / 2), 0, height - high))
    return Window(row=row, column=column, height=high, width=wide)


def _inside(points: FloatArray, window: Window) -> BoolArray:
    across = points[:, 0] - window.column
    down = points[:, 1] - window.row
    inside = (across >= -0.5) & (across <= window.width - 0.5)
    return np.asarray(inside & (down >= -0.5) & (down <= window.height - 0.5))


def plain_cut(
    labels: LabelArray, window: Window, path: SeamPath, pair: tuple[int, int]
) -> LabelArray:
    """Cut a pair of tiles along the straight line nearest to their seam in a window."""
    points = path.points[_inside(path.points, window)] - (window.column, window.row)
    middle = points.mean(axis=0)
    normal = np.linalg.svd(points - middle, full_matrices=True)[2][-1]
    rows, columns = np.indices(labels.shape)
    beyond = (columns - middle[0]) * normal[0] + (rows - middle[1]) * normal[1] > 0
    first, second = (labels == k for k in pair)
    # Whichever side each tile mostly lies on already.
    swap = (first & beyond).sum() + (second & ~beyond).sum() > (first & ~beyond).sum() + (
        second & beyond
    ).sum()
    cut = labels.copy()
    here = first | second
    cut[here] = np.where(beyond ^ swap, pair[1], pair[0]).astype(np.uint8)[here]
    return cut


def rim_crossings(labels: LabelArray) -> tuple[Point, ...]:
    """Give where borders between labels meet a piece's rim, pixels of the piece."""
    height, width = labels.shape
    found = [(x, float(y)) for y, at in ((0, labels[0]), (height, labels[-1])) for x in _cuts(at)]
    found += [
        (float(x), y) for x, at in ((0, labels[:, 0]), (width, labels[:, -1])) for y in _cuts(at)
    ]
    return tuple(found[:: max(1, -(-len(found) // ENDS))])


def _cuts(labels: LabelArray) -> list[float]:
    """Give where, along a row, one tile ends and another begins."""
    border = (labels[1:] != labels[:-1]) & (labels[1:] != UNCOVERED) & (labels[:-1] != UNCOVERED)
    return [float(k + 1) for k in np.flatnonzero(border)]


def _before(
    tiles: Sequence[RenderTile], sources: LabelArray, window: Window, space: RGBSpace
) -> tuple[Picture, Picture]:
    """Put the tiles side by side as scanned, and as matched by their strips."""
    pictures = np.full((2, *sources.shape, 3), 255, np.uint8)
    wanted = [int(k) for k in np.unique(sources) if k != UNCOVERED]
    shown = {k: _shown(tiles[k], window, space) for k in wanted}
    for number in wanted:
        # Where a tile ends before the straight line, another one goes on.
        for other in (*(k for k in wanted if k != number), number):
            into = (sources == number) & shown[other][2]
            for picture, pixels in zip(pictures, shown[other], strict=False):
                picture[into] = pixels[into]
    return pictures[0], pictures[1]


def _shown(tile: RenderTile, window: Window, space: RGBSpace) -> tuple[Picture, Picture, BoolArray]:
    """Give a tile on the canvas as scanned and as matched, and where it shows anything."""
    where = Lattice(tile.scan_from_canvas, LATTICE).places(window)
    needed = where.needed(tile.width, tile.height)
    if needed is None:
        nothing = np.zeros((window.height, window.width, 3), np.uint8)
        return nothing, nothing, np.zeros(nothing.shape[:2], bool)
    raw = tile.read(needed)
    encoded = np.divide(raw, np.iinfo(raw.dtype).max, dtype=np.float32)
    light = tile.correct(raw, needed.row, needed.column)
    scanned = resampled(encoded, where, needed.row, needed.column)
    matched = resampled(light, where, needed.row, needed.column)
    return in_codes(scanned), shown_in_srgb(matched, space), where.within(tile.usable)


def in_codes(encoded: FloatArray) -> Picture:
    """Round encoded values, 0 to 1, to 8 bits."""
    return np.asarray(np.round(np.clip(encoded, 0, 1) * 255), dtype=np.uint8)


def shown_in_srgb(light: FloatArray, space: RGBSpace) -> Picture:
    """Encode linear light of a space for a page."""
    srgb = rgb_space("srgb")
    if space.name != srgb.name:
        light = light @ (srgb.rgb_from_xyz @ space.xyz_from_rgb).T
    return in_codes(srgb.encode(clip_to_gamut(light)))


def kept_passing(
    blocks: Iterator[NDArray[Any]], pieces: Sequence[SeamPiece]
) -> Iterator[NDArray[Any]]:
    """Let rows of the picture pass, and keep of them what the pieces show."""
    row = 0
    for block in blocks:
        for piece in pieces:
            window = piece.window
            first = max(row, window.row)
            last = min(row + len(block), window.row + window.height)
            if first < last:
                across = slice(window.column, window.column + window.width)
                into = piece.codes[first - window.row : last - window.row]
                into[:] = block[first - row : last - row, across]
        row += len(block)
        yield block


def crop_views(
    pieces: Sequence[SeamPiece], joined: Joined, names: Sequence[str], space: RGBSpace
) -> tuple[CropView, ...]:
    """Give what the page draws, once all rows have passed."""
    views = []
    for piece in pieces:
        window = piece.window
        middle = (window.column + window.width / 2 - 0.5, window.row + window.height / 2 - 0.5)
        x, y = (float(v) for v in joined.grid.mm_of_canvas(np.array(middle)))
        encoded = piece.codes / np.iinfo(piece.codes.dtype).max
        plain = space.name == "srgb"
        views.append(
            CropView(
                tiles=(names[piece.pair[0]], names[piece.pair[1]]),
                box=(window.column, window.row, window.width, window.height),
                middle=(x, y),
                delta_e=piece.delta_e,
                scanned=piece.scanned,
                matched=piece.matched,
                joined=in_codes(encoded) if plain else shown_in_srgb(space.decode(encoded), space),
                ends=piece.ends,
                cuts=piece.cuts,
            )
        )
    return tuple(views)
