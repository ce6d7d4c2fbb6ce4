"""Log ratios in overlaps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.levelling.geometry import mapped
from colormatch.levelling.measuring import SPACING, measure
from colormatch.model import FloatArray
from tests.levelling.cases import FROM, TO, two_views
from tests.levelling.scenes import Scene, View, scan_scene


@pytest.fixture(scope="module")
def quiet() -> Scene:
    """Two tiles without noise under even light, gains 1.1 and 1."""
    left, right = two_views()
    views = [replace(left, gain=(1.1, 1.1, 1.1)), replace(right, gain=(1.0, 1.0, 1.0))]
    return scan_scene(np.random.default_rng(3), (320.0, 178.0), views, noise=0.0)


def test_ratios_are_the_gains(quiet: Scene) -> None:
    (pair,) = measure(quiet.tiles)
    weight = pair.sigma**-2.0
    mean = np.average(pair.ratio.mean(axis=1), weights=weight)
    assert mean == pytest.approx(np.log(1.1), abs=2.0 / np.sqrt(weight.sum()))
    # What texture and the rims add stays within what is told of it.
    normal = (pair.ratio - np.log(1.1)) / pair.sigma[:, None]
    assert np.percentile(np.abs(normal), 95) < 2.0


def test_samples_lie_on_a_lattice_in_the_overlap(quiet: Scene) -> None:
    (pair,) = measure(quiet.tiles)
    np.testing.assert_allclose(pair.places, pair.cells[:, ::-1] * SPACING)
    assert pair.places[:, 0].min() >= FROM - 0.5
    assert pair.places[:, 0].max() <= TO + 0.5
    expected = (TO - FROM) * 178.0 / SPACING**2
    assert 0.7 * expected < len(pair.places) < 1.05 * expected


def test_places_on_the_glass_belong_to_places_on_the_painting(quiet: Scene) -> None:
    (pair,) = measure(quiet.tiles)
    for tile, glass in zip(quiet.tiles, (pair.glass_first, pair.glass_second), strict=True):
        assert not callable(tile.mm_from_px)
        to_glass = tile.scanner_mm_from_px
        pixels = (glass - to_glass[:, 2]) @ np.linalg.inv(to_glass[:, :2]).T
        np.testing.assert_allclose(mapped(tile.mm_from_px, pixels), pair.places, atol=1e-9)


def test_a_map_given_as_a_function_is_the_same(quiet: Scene) -> None:
    matrix = quiet.tiles[1].mm_from_px
    assert not callable(matrix)

    def function(points: FloatArray) -> FloatArray:
        return mapped(matrix, points)

    (one,) = measure(quiet.tiles)
    (two,) = measure((quiet.tiles[0], replace(quiet.tiles[1], mm_from_px=function)))
    np.testing.assert_allclose(two.ratio, one.ratio, atol=1e-6)


def test_what_was_divided_out_is_told_apart(quiet: Scene) -> None:
    lamp = np.full(quiet.tiles[0].valid.shape, 1.25)
    (pair,) = measure((replace(quiet.tiles[0], lamp=lamp), quiet.tiles[1]))
    np.testing.assert_allclose(pair.lamp_ratio, np.log(1.25), atol=1e-9)


def test_darks_and_edges_are_trusted_less(quiet: Scene) -> None:
    (pair,) = measure(quiet.tiles)
    darkest = pair.light.min(axis=1)
    assert np.median(pair.sigma[darkest < 0.05]) > 1.3 * np.median(pair.sigma[darkest > 0.2])
    (looser,) = measure(quiet.tiles, misregistration=0.5)
    assert np.median(looser.sigma) > 1.5 * np.median(pair.sigma)


def test_glare_black_and_holes_are_left_out(quiet: Scene) -> None:
    light = quiet.tiles[1].light.copy()
    places = quiet.places[1]
    light[places[..., 1] < 40.0] = 0.0
    light[places[..., 1] > 140.0] = 1.4
    light[(places[..., 1] > 80.0) & (places[..., 1] < 90.0)] = np.nan
    (pair,) = measure((quiet.tiles[0], replace(quiet.tiles[1], light=light)))
    down = pair.places[:, 1]
    # The blur brings a little light across each border, up to three sigma.
    assert down.min() > 40.0 - 6.0
    assert down.max() < 140.0 + 6.0
    assert not np.any((down > 81.0) & (down < 89.0))
    assert np.all(np.isfinite(pair.ratio))


def test_tiles_apart_give_no_samples() -> None:
    views = [View(at=(10.0, 40.0)), View(at=(-230.0, 40.0))]
    scene = scan_scene(np.random.default_rng(2), (440.0, 120.0), views)
    assert measure(scene.tiles) == ()


def test_names_must_differ(quiet: Scene) -> None:
    with pytest.raises(InputError, match="different names"):
        measure((quiet.tiles[0], quiet.tiles[0]))


def test_an_empty_mask_is_refused_by_name(quiet: Scene) -> None:
    empty = replace(quiet.tiles[1], valid=np.zeros_like(quiet.tiles[1].valid))
    with pytest.raises(InputError, match="tile1: nothing of the painting"):
        measure((quiet.tiles[0], empty))
