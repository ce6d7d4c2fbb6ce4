"""Pictures cut into tiles come back; blocks, turns, memory and fill."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from colormatch.colour.encoding import Encoder
from colormatch.colour.spaces import rgb_space
from colormatch.joining.blocks import NONE, Picture
from colormatch.joining.rendering import Renderer
from colormatch.joining.sources import Pixels, RenderTile
from colormatch.model import FloatArray, Window
from tests.joining.pieces import Counted, Waves, cut, grid, labelled

SIZE = (330, 450)
WINDOWS = (
    Window(row=0, column=0, height=200, width=260),
    Window(row=0, column=190, height=210, width=260),
    Window(row=150, column=0, height=180, width=270),
    Window(row=140, column=200, height=190, width=250),
)


def noise(kind: type[np.uint8] | type[np.uint16]) -> Pixels:
    top = np.iinfo(kind).max
    picture: NDArray[Any] = np.random.default_rng(1).integers(0, top + 1, (*SIZE, 3)).astype(kind)
    return picture


def quarters() -> NDArray[np.uint8]:
    """Labels of four tiles, their seams inside the overlaps and not straight."""
    y, x = np.mgrid[: SIZE[0], : SIZE[1]]
    right = x > 225 + 15 * np.sin(y / 20)
    lower = y > 175 + 15 * np.sin(x / 25)
    return np.asarray(right + 2 * lower, dtype=np.uint8)


def pieces(
    picture: Pixels, turns: Sequence[int] = (0, 0, 0, 0)
) -> list[tuple[RenderTile, Counted]]:
    return [cut(picture, window, turn) for window, turn in zip(WINDOWS, turns, strict=True)]


def rendered(picture: Picture, **how: object) -> NDArray[np.float32]:
    blocks = list(Renderer(picture=picture, **how).light())  # type: ignore[arg-type]
    return np.concatenate(blocks)


@pytest.mark.parametrize("turns", [(0, 0, 0, 0), (1, 2, 3, 0), (2, 1, 0, 3)])
def test_a_picture_cut_at_whole_pixels_comes_back_exactly(turns: tuple[int, ...]) -> None:
    picture = noise(np.uint16)
    tiles = tuple(tile for tile, _ in pieces(picture, turns))
    renderer = Renderer(picture=labelled(tiles, quarters()), rows=96, columns=128)
    light = np.concatenate(list(renderer.light()))
    np.testing.assert_array_equal(light, picture.astype(np.float32) / 65535)
    assert renderer.tally.uncovered == 0


def decoded(tile: RenderTile, bits: int) -> RenderTile:
    levels = np.arange(2**bits) / (2**bits - 1)
    table = rgb_space("srgb").decode(levels).astype(np.float32)
    return replace(tile, correct=lambda block, _row, _column: table[block])


# 16-bit codes pass through the encoder's table, whose error is one step.
@pytest.mark.parametrize(("kind", "largest"), [(np.uint8, 0), (np.uint16, 1)])
def test_codes_come_back_within_rounding(
    kind: type[np.uint8] | type[np.uint16], largest: int
) -> None:
    picture = noise(kind)
    bits = picture.dtype.itemsize * 8
    tiles = tuple(decoded(tile, bits) for tile, _ in pieces(picture))
    renderer = Renderer(picture=labelled(tiles, quarters()))
    codes = np.concatenate(list(renderer.encoded(Encoder(rgb_space("srgb"), bits))))
    assert codes.dtype == kind
    assert np.abs(codes.astype(int) - picture).max() <= largest


@pytest.mark.parametrize("turns", [(0, 0, 0, 0), (2, 2, 2, 2), (1, 3, 1, 3)])
def test_only_what_is_shown_and_a_rim_around_it_is_read(turns: tuple[int, ...]) -> None:
    made = pieces(noise(np.uint8), turns)
    rendered(labelled(tuple(tile for tile, _ in made), quarters()), rows=64, columns=64)
    # Each block of 64 x 64 pixels takes in at most 36 more on either side, for the
    # blend and for Lanczos: a row occurs in three rows of blocks and no more.
    for (_, counted), turn, window in zip(made, turns, WINDOWS, strict=True):
        beside = (window.height if turn % 2 else window.width) / 64 + 2
        assert counted.rows.max() <= 3 * beside


def wavy_tiles(gains: Sequence[float] = (1, 1, 1, 1)) -> tuple[tuple[RenderTile, ...], Waves]:
    """Four slanted tiles of one scene, each with a gain of its own."""
    waves = Waves.drawn(np.random.default_rng(6), 0.1)
    tiles = []
    for k, (window, gain) in enumerate(zip(WINDOWS, gains, strict=True)):
        angle = np.radians((0.3, -0.2, 0.1, -0.4)[k])
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        corner = np.array([window.column - 6.3, window.row - 5.8])
        size = Window(row=0, column=0, height=window.height + 14, width=window.width + 14)
        light = gain * waves.light(grid(size) @ turn + corner)
        scan = np.round(np.clip(light, 0, 1) * 65535).astype(np.uint16)
        tile, _ = cut(scan, size)
        tiles.append(replace(tile, scan_from_canvas=slant(turn, corner)))
    return tuple(tiles), waves


def slant(turn: FloatArray, corner: FloatArray) -> Callable[[FloatArray], FloatArray]:
    return lambda points: np.asarray((points - corner) @ turn.T)


def test_slanted_tiles_join_into_the_scene() -> None:
    tiles, waves = wavy_tiles()
    light = rendered(labelled(tiles, quarters()))
    error = light - waves.light(grid(Window(row=0, column=0, height=SIZE[0], width=SIZE[1])))
    assert np.sqrt(np.mean(error**2)) / 0.1 < 0.008


@pytest.mark.parametrize("blocks", [(64, 64), (50, 77), (256, 512), (330, 31)])
def test_the_result_does_not_depend_on_the_blocks(blocks: tuple[int, int]) -> None:
    tiles, _ = wavy_tiles((1, 0.97, 1.02, 0.99))
    y, x = np.mgrid[: SIZE[0], : SIZE[1]]
    labels, agree = quarters(), (x // 60 + y // 60) % 4 != 0
    labels[:, -9:] = NONE
    picture = labelled(tiles, labels, agree)
    whole = rendered(picture, rows=400, columns=500)
    parts = rendered(picture, rows=blocks[0], columns=blocks[1])
    np.testing.assert_allclose(parts, whole, atol=1e-5)


def test_where_tiles_may_not_be_mixed_the_cut_is_hard() -> None:
    tiles, _ = wavy_tiles((1, 0.8, 1.1, 0.9))
    labels = quarters()
    hard = rendered(labelled(tiles, labels, np.zeros(SIZE, bool)))
    alone = [rendered(labelled(tiles, np.full(SIZE, k, np.uint8))) for k in range(4)]
    np.testing.assert_array_equal(hard, np.choose(labels[..., None], alone))
    np.testing.assert_array_equal(rendered(labelled(tiles, labels, levels=0)), hard)
    agree = np.zeros(SIZE, bool)
    agree[:, :100] = True
    half = rendered(labelled(tiles, labels, agree))
    np.testing.assert_array_equal(half[:, 132:], hard[:, 132:])
    assert np.abs(half[:, :100] - hard[:, :100]).max() > 0.01


def test_a_seam_between_different_lights_is_crossed_in_about_16_pixels() -> None:
    flat = np.full((*SIZE, 3), 30000, np.uint16)
    left, _ = cut(flat, Window(row=0, column=0, height=330, width=300))
    right, _ = cut(flat, Window(row=0, column=150, height=330, width=300))
    gain = np.full((3, 3), 1.2, np.float32)
    labels = np.zeros(SIZE, np.uint8)
    labels[:, 225:] = 1
    light = rendered(labelled((left, replace(right, gain=gain, gain_step=110)), labels))
    row = (light[160, :, 0] / light[160, 0, 0] - 1) / 0.2
    ten, ninety = (np.interp(share, row, np.arange(len(row))) for share in (0.1, 0.9))
    assert 15 < ninety - ten < 18


def test_what_no_tile_shows_is_filled_and_counted() -> None:
    picture = noise(np.uint16)
    tile, _ = cut(picture, Window(row=20, column=30, height=200, width=260))
    labels = np.zeros(SIZE, np.uint8)
    labels[:, 400:] = NONE
    valid = Window(row=0, column=0, height=200, width=250)
    renderer = Renderer(
        picture=labelled((replace(tile, valid=valid),), labels, fill=(0.9, 0.8, 0.7)), rows=64
    )
    light = np.concatenate(list(renderer.light()))
    shown = np.zeros(SIZE, bool)
    shown[20:220, 30:280] = True
    assert renderer.tally.uncovered == (~shown).sum()
    np.testing.assert_array_equal(light[shown], picture[shown].astype(np.float32) / 65535)
    assert (light[~shown] == np.array([0.9, 0.8, 0.7], np.float32)).all()


def test_colours_outside_are_counted_by_the_callers_rule() -> None:
    tiles, _ = wavy_tiles()
    renderer = Renderer(picture=labelled(tiles, quarters()), rows=100)
    blocks = renderer.encoded(
        Encoder(rgb_space("srgb"), 8), outside=lambda light: int((light[..., 0] > 0.6).sum())
    )
    list(blocks)
    light = rendered(labelled(tiles, quarters()))
    assert renderer.tally.outside == (light[..., 0] > 0.6).sum()


def test_progress_reaches_the_end_in_order() -> None:
    tiles, _ = wavy_tiles()
    told: list[float] = []
    rendered(labelled(tiles, quarters()), rows=50, progress=lambda _label, done: told.append(done))
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(told) == 7


def test_a_rendering_left_half_way_stops_reading() -> None:
    made = pieces(noise(np.uint8), (1, 0, 1, 0))
    picture = labelled(tuple(tile for tile, _ in made), quarters())
    blocks = Renderer(picture=picture, rows=40).light()
    next(blocks)
    blocks.close()  # type: ignore[attr-defined]
    before = [counted.rows.sum() for _, counted in made]
    time.sleep(0.05)
    assert [counted.rows.sum() for _, counted in made] == before


def endless(height: int, turned: bool) -> tuple[RenderTile, ...]:
    """Two tiles of any length that take no memory of their own."""
    size = (1100, height) if turned else (height, 1100)
    tiles = []
    for column in (0, 900):
        tiles.append(
            RenderTile(
                name="endless",
                width=size[1],
                height=size[0],
                bits=16,
                read=lambda w: np.full((w.height, w.width, 3), 20000, np.uint16),
                correct=lambda block, _row, _column: np.divide(block, 65535, dtype=np.float32),
                scan_from_canvas=lambda points, c=column: (  # type: ignore[misc]
                    (points - [c - 0.3, 0.4])[:, ::-1] if turned else points - [c - 0.3, 0.4]
                ),
            )
        )
    return tuple(tiles)


def peak(height: int, *, turned: bool) -> int:
    def labels(window: Window) -> NDArray[np.uint8]:
        x = np.arange(window.column, window.column + window.width)
        return np.broadcast_to(x > 1000, (window.height, window.width)).astype(np.uint8)

    picture = Picture(
        width=2000,
        height=height,
        tiles=endless(height, turned),
        labels=labels,
        blendable=lambda w: np.ones((w.height, w.width), bool),
    )
    tracemalloc.start()
    try:
        for _ in Renderer(picture=picture).encoded(Encoder(rgb_space("srgb"), 16)):
            pass
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("turned", [False, True])
def test_memory_does_not_grow_with_the_height(turned: bool) -> None:
    short, tall = (peak(height, turned=turned) for height in (1000, 4000))
    # Held as codes the 3000 rows more would take 36 MB; the peak itself varies by
    # some 9 MB with how the two threads happen to meet.
    assert tall - short < 18e6
    # The picture in float would take 96 MB.
    assert tall < 60e6
