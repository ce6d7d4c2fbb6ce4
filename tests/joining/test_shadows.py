"""Which tile is right: each reason on a scene in which it alone can tell."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.joining.shadows import judge_shadows
from tests.joining.scenes import (
    MM,
    STEP,
    Array,
    Canvas,
    canvas_of,
    cut,
    side_by_side,
    textured,
    with_noise,
)


def penalised(canvas: Canvas, penalties: tuple[Array, ...], tile: int) -> Array:
    """Penalty of a tile on the whole grid."""
    whole = np.zeros((canvas.grid.height, canvas.grid.width), np.float32)
    whole[canvas.tiles[tile].box.slices] = penalties[tile]
    return whole


def edge_shadow(tile: Array, edge: int, depth: float, reach: float) -> None:
    """Darken a right-hand tile beside its left edge, falling to 1/e in ``reach`` mm."""
    distance = (np.arange(tile.shape[1]) - edge) * MM
    tile *= (1 - depth * np.exp(-np.maximum(distance, 0) / reach))[:, None].astype(np.float32)


@pytest.mark.parametrize("depth", [0.22, -0.12])
def test_what_follows_a_tiles_own_edge_is_its_fault_dark_or_bright(depth: float) -> None:
    rng = np.random.default_rng(1)
    tiles = side_by_side(textured(rng, 1000, 1600), (500, 1200))
    edge_shadow(tiles[1], 500, depth, 1.5)
    canvas = canvas_of(with_noise(tiles, rng, 0.02))
    verdict = judge_shadows(canvas.grid, canvas.tiles, canvas.nothing)
    remark = verdict.remarks[0]
    assert (remark.kind, remark.reason) == ("shadow", "edge")
    assert remark.tiles == ("tile1.tif", "tile0.tif")
    assert np.sign(remark.depth) == np.sign(depth)
    assert remark.size[0] == pytest.approx(1000 * MM, rel=0.1)
    # Where more than 3 % of light are missing the tile is not taken; the other is.
    wide = round(1.5 * np.log(abs(depth) / 0.03) / MM)
    wrong = penalised(canvas, verdict.penalties, 1)
    assert wrong[:, 500 // STEP + 1 : (500 + wide) // STEP].mean() > 0.97
    assert wrong[:, (500 + wide) // STEP + 12 :].max() == 0
    assert penalised(canvas, verdict.penalties, 0).max() == 0
    assert "tile1.tif is" in remark.text
    assert ("darker" if depth > 0 else "brighter") in remark.text


def test_the_softer_tile_is_wrong() -> None:
    rng = np.random.default_rng(2)
    tiles = side_by_side(textured(rng, 1000, 1600), (300, 1300))
    tiles[0][400:600, 700:900] *= 0.9
    canvas = canvas_of(with_noise(tiles, rng, 0.02))
    softness = canvas.nothing
    softness[0][40:90, 80:120] = 0.5
    verdict = judge_shadows(canvas.grid, canvas.tiles, softness)
    assert [(r.kind, r.reason, r.tiles) for r in verdict.remarks] == [
        ("shadow", "softer", ("tile0.tif", "tile1.tif"))
    ]
    assert verdict.remarks[0].depth == pytest.approx(0.1, abs=0.01)
    place = verdict.remarks[0].place
    assert place == pytest.approx((800 * MM, 500 * MM), abs=0.5)


def test_a_third_tile_votes() -> None:
    rng = np.random.default_rng(3)
    light = textured(rng, 1000, 1600)
    tiles = cut(light, [(0, 1000, 0, 1300), (0, 1000, 300, 1600), (0, 1000, 200, 1500)])
    # A slow swell has no border at which light could jump, and follows no edge.
    rows, columns = np.ogrid[:1000, :1600]
    swell = np.exp(-((rows - 500) ** 2 + (columns - 800) ** 2) / (2 * 120.0**2))
    tiles[1] *= (1 - 0.15 * swell)[..., None].astype(np.float32)
    canvas = canvas_of(with_noise(tiles, rng, 0.02))
    verdict = judge_shadows(canvas.grid, canvas.tiles, canvas.nothing)
    against = [r for r in verdict.remarks if "tile1.tif" in r.tiles and r.size[0] > 5]
    assert {(r.kind, r.reason, r.tiles[0]) for r in against} == {("shadow", "third", "tile1.tif")}
    # Both other tiles contradict it; the place is told once.
    assert len(against) == 1
    assert penalised(canvas, verdict.penalties, 1)[500 // STEP, 800 // STEP] == 1
    assert penalised(canvas, verdict.penalties, 0).max() == 0
    assert penalised(canvas, verdict.penalties, 2).max() == 0


def test_the_tile_whose_light_jumps_is_wrong() -> None:
    rng = np.random.default_rng(4)
    tiles = side_by_side(textured(rng, 1000, 1600, contrast=0.1), (300, 1300))
    tiles[1][400:600, 700:900] *= 0.85
    canvas = canvas_of(with_noise(tiles, rng, 0.02))
    verdict = judge_shadows(canvas.grid, canvas.tiles, canvas.nothing)
    assert [(r.kind, r.reason, r.tiles[0]) for r in verdict.remarks] == [
        ("shadow", "surroundings", "tile1.tif")
    ]
    assert verdict.remarks[0].depth == pytest.approx(0.15, abs=0.01)


def test_what_nothing_decides_is_told_and_not_judged() -> None:
    rng = np.random.default_rng(5)
    tiles = side_by_side(textured(rng, 1000, 1600, contrast=0.1), (300, 1300))
    # Each tile is off by as much, to either side: neither continues its surroundings.
    tiles[0][400:600, 700:900] *= 1.06
    tiles[1][400:600, 700:900] /= 1.06
    canvas = canvas_of(with_noise(tiles, rng, 0.02))
    verdict = judge_shadows(canvas.grid, canvas.tiles, canvas.nothing)
    assert [(r.kind, r.reason) for r in verdict.remarks] == [("unresolved", "")]
    assert verdict.remarks[0].tiles == ("tile0.tif", "tile1.tif")
    assert "[[keep]]" in verdict.remarks[0].text
    assert max(float(p.max()) for p in verdict.penalties) == 0


def test_one_tile_has_nothing_to_differ_from() -> None:
    canvas = canvas_of([textured(np.random.default_rng(6), 400, 400)])
    verdict = judge_shadows(canvas.grid, canvas.tiles, canvas.nothing)
    assert verdict.remarks == ()
    assert verdict.penalties[0].max() == 0
