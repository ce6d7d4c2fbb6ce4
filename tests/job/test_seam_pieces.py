"""Pieces across seams: where they are taken, how they are cut, and that they are the picture."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import tifffile

from colormatch.colour.spaces import rgb_space
from colormatch.job.merging import merge
from colormatch.job.options import MergeOptions
from colormatch.job.seam_pieces import (
    APART,
    FEWEST,
    MOST,
    SIZE,
    SeamPiece,
    kept_passing,
    plain_cut,
    rim_crossings,
    seam_pieces,
    window_around,
    worst_places,
)
from colormatch.joining.blocks import Picture
from colormatch.joining.records import UNCOVERED
from colormatch.joining.refining import SeamPath
from colormatch.joining.sources import RenderTile
from colormatch.model import Window
from demo.run import DemoFiles

Tiles = tuple[RenderTile, RenderTile]


def path(
    points: list[tuple[float, float]] | np.ndarray, delta_e: list[float], pair: tuple[int, int]
) -> SeamPath:
    return SeamPath(
        points=np.array(points, dtype=float), plus=pair[1], minus=pair[0],
        delta_e=np.array(delta_e), slip=np.zeros(len(delta_e)),
        blend=np.ones(len(delta_e), bool),
    )  # fmt: skip


def test_each_pair_is_shown_where_it_is_worst_and_the_worst_pair_first() -> None:
    line = [(0.0, 10.0 * k) for k in range(5)]
    paths = [
        path(line, [0.1, 0.4, np.nan, 0.2, 0.1], (0, 1)),
        path(line, [0.1, 0.2, 0.9, 0.2, 0.1], (1, 2)),
        path(line, [0.5, 0.2, 0.1, 0.2, 0.1], (0, 1)),
    ]
    chosen = worst_places(paths)
    assert [(p.plus, k) for p, k in chosen] == [(2, 2), (1, 0)]
    assert chosen[1][0] is paths[2]


def test_one_long_seam_is_shown_in_several_places_that_do_not_overlap() -> None:
    points = np.column_stack([np.zeros(1000), np.arange(1000) * 2.0])
    values = np.linspace(0, 1, 1000)
    chosen = worst_places([path(points, list(values), (0, 1))])
    assert len(chosen) == FEWEST
    heights = [float(p.points[k, 1]) for p, k in chosen]
    assert np.abs(np.diff(heights)).min() >= SIZE[1] * APART - 2


def test_of_many_pairs_the_worst_are_shown() -> None:
    paths = [path([(0, 0)], [k / 10], (0, k + 1)) for k in range(MOST + 5)]
    chosen = worst_places(paths)
    assert len(chosen) == MOST
    assert min(float(p.delta_e[k]) for p, k in chosen) == pytest.approx(0.5)
    assert worst_places([path([(0, 0)], [np.nan], (0, 1))]) == []


def test_a_piece_lies_inside_the_picture() -> None:
    window = window_around(np.array([3.0, 997.0]), 2000, 1000)
    assert (window.column, window.row) == (0, 1000 - SIZE[1])
    small = window_around(np.array([3.0, 7.0]), 40, 30)
    assert small == Window(row=0, column=0, height=30, width=40)


@pytest.mark.parametrize("turn", [0.0, 0.7, 1.571, 2.5, 3.9])
def test_the_plain_cut_is_the_straight_line_through_a_seam_that_winds(turn: float) -> None:
    window = Window(row=500, column=300, height=SIZE[1], width=SIZE[0])
    rows, columns = np.indices((window.height, window.width))
    normal = np.array([np.cos(turn), np.sin(turn)])
    off = (columns - 160) * normal[0] + (rows - 125) * normal[1]
    along = (columns - 160) * -normal[1] + (rows - 125) * normal[0]
    labels = (off > 9 * np.sin(along / 7)).astype(np.uint8)
    steps = np.arange(-400, 400) / 1.0
    points = (
        np.array([160, 125])
        + steps[:, None] * [-normal[1], normal[0]]
        + 9 * np.sin(steps / 7)[:, None] * normal
        + [window.column, window.row]
    )
    cut = plain_cut(labels, window, path(points, [0.1] * 800, (0, 1)), (0, 1))
    straight = (off > 0).astype(np.uint8)
    assert (cut != straight).mean() < 0.5 * (labels != straight).mean()


def test_a_third_tile_keeps_its_part_of_a_piece() -> None:
    window = Window(row=0, column=0, height=100, width=100)
    labels = np.zeros((100, 100), np.uint8)
    labels[:, 50:] = 1
    labels[80:] = 2
    seam = path([(50.0, y) for y in range(80)], [0.1] * 80, (0, 1))
    cut = plain_cut(labels, window, seam, (0, 1))
    assert (cut[80:] == 2).all()
    assert rim_crossings(cut) == ((50.0, 0.0), (0.0, 80.0), (100.0, 80.0))
    # Where nothing is shown no tile is cut.
    cut[:10] = UNCOVERED
    assert rim_crossings(cut) == ((0.0, 80.0), (100.0, 80.0))


def test_rows_pass_unchanged_and_the_pieces_keep_their_part() -> None:
    picture = np.random.default_rng(1).integers(0, 65536, (97, 60, 3), dtype=np.uint16)
    nothing = np.empty((0, 0, 3), np.uint8)
    pieces = [
        SeamPiece(
            pair=(0, 1), window=window, delta_e=0.0, scanned=nothing, matched=nothing,
            ends=(), cuts=(), codes=np.zeros((window.height, window.width, 3), np.uint16),
        )
        for window in (
            Window(row=0, column=0, height=97, width=60),
            Window(row=30, column=7, height=41, width=20),
            Window(row=95, column=59, height=2, width=1),
        )
    ]  # fmt: skip
    ends = [0, 1, 33, 34, 90, 97]
    blocks = (picture[a:b] for a, b in pairwise(ends))
    assert (np.concatenate(list(kept_passing(blocks, pieces))) == picture).all()
    for piece in pieces:
        w = piece.window
        kept = picture[w.row : w.row + w.height, w.column : w.column + w.width]
        assert (piece.codes == kept).all()


def shifted(shift: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda points: points - (shift, 0.0)


@pytest.fixture
def two() -> tuple[Tiles, np.ndarray]:
    """Two tiles of one picture: the right one begins 200 pixels farther right, half as bright."""
    whole = np.random.default_rng(2).integers(200, 250, (300, 600, 3), dtype=np.uint8)
    scans = whole[:, :400], whole[:, 200:] // 2

    def tile(k: int) -> RenderTile:
        def read(window: Window) -> np.ndarray:
            down = slice(window.row, window.row + window.height)
            return scans[k][down, window.column : window.column + window.width]

        def correct(pixels: np.ndarray, row: int, column: int) -> np.ndarray:
            del row, column
            return pixels.astype(np.float32) / 255 * (1, 2)[k]

        return RenderTile(
            name=f"tile-{k}", width=400, height=300, bits=8, read=read, correct=correct,
            scan_from_canvas=shifted(200.0 * k),
        )  # fmt: skip

    return (tile(0), tile(1)), whole


def test_tiles_lie_side_by_side_as_scanned_and_as_matched(
    two: tuple[Tiles, np.ndarray],
) -> None:
    tiles, whole = two

    def labels(window: Window) -> np.ndarray:
        columns = np.arange(window.column, window.column + window.width)
        return np.broadcast_to((columns >= 300).astype(np.uint8), (window.height, window.width))

    plan = Picture(
        width=600, height=300, tiles=tiles, labels=labels,
        blendable=lambda window: np.zeros((window.height, window.width), bool),
    )  # fmt: skip
    seam = path([(299.5, y) for y in range(0, 300, 2)], [0.1] * 149 + [0.3], (0, 1))
    piece = seam_pieces(plan, [seam], rgb_space("srgb"), 8)[0]
    w = piece.window
    part = whole[w.row : w.row + w.height, w.column : w.column + w.width]
    middle = 300 - w.column
    assert (piece.scanned[:, :middle] == part[:, :middle]).all()
    assert (piece.scanned[:, middle:] == part[:, middle:] // 2).all()
    # Matched, the two are one picture again, to the rounding of the half.
    encoded = rgb_space("srgb").encode(part / 255.0) * 255
    assert np.abs(piece.matched - encoded).max() < 3
    assert piece.delta_e == pytest.approx(0.3)
    assert piece.ends == piece.cuts == ((float(middle), 0.0), (float(middle), float(w.height)))


def test_the_third_state_is_the_picture_as_written(two_tiles: DemoFiles, tmp_path: Path) -> None:
    options = MergeOptions(
        reference=two_tiles.reference, out=tmp_path / "painting.tif", bits=8, wrap=3.0,
        report=tmp_path / "report",
    )  # fmt: skip
    report = merge(two_tiles.scans, options)
    view, merged = report.views.merged, report.merged
    assert view is not None
    assert merged is not None
    written = tifffile.imread(options.out)
    margin = (written.shape[1] - merged.width) // 2
    assert margin > 0
    assert len(view.crops) == FEWEST
    for crop in view.crops:
        x, y, width, height = (int(v) for v in crop.box)
        part = written[margin + y : margin + y + height, margin + x : margin + x + width]
        assert (crop.joined == part).all()
        assert crop.ends
        # The same painting in all three states, the last two in the same colours.
        apart = np.abs(crop.matched.astype(int) - crop.joined).mean()
        assert apart < 4 < np.abs(crop.scanned.astype(int) - crop.joined).mean()
    # Without a report nothing is read for it.
    bare = merge(two_tiles.scans, replace(options, report=None, force=True))
    assert bare.views.merged is None
