"""The whole solve against lights that are known exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.levelling.applying import gain_fields
from colormatch.levelling.blank import BlankMap
from colormatch.levelling.solving import field_spacing, solve
from colormatch.levelling.terms import MOST_UNKNOWNS, Area
from tests.levelling.cases import (
    FROM,
    TO,
    Levelled,
    chain,
    edge_shadow,
    even_pair,
    grid,
    level,
    mean_de,
    mean_errors,
    p95,
    pair_without_strip,
    seam_keep,
    sheet,
    steps,
    two_views,
    uneven_pair,
    unshaded,
)
from tests.levelling.scenes import (
    Array,
    View,
    errors,
    scan_scene,
    tilt,
    unevenness,
    vignette,
)


@pytest.fixture(scope="module")
def blank() -> BlankMap:
    return sheet(5)


def before(result: Levelled) -> float:
    none = [None] * len(result.gains)
    values = unevenness(result.scene, none, keep=seam_keep(result.scene))
    return float(np.percentile(values, 95))


@pytest.mark.parametrize("strip", ["lamp", "way"])
@pytest.mark.parametrize("seed", [1, 2])
def test_two_tiles_with_fall_off_tilt_and_a_shadow(strip: str, seed: int) -> None:
    result = level(uneven_pair(seed, strip=strip, shadow=edge_shadow(0.22, 10.0)))
    after = p95(result, seam_keep(result.scene))
    assert after < 0.2
    assert after < 0.4 * before(result)


@pytest.mark.parametrize("evened", [False, True])
@pytest.mark.parametrize("strip", ["lamp", "way"])
def test_with_a_blank_sheet_little_is_left(blank: BlankMap, strip: str, evened: bool) -> None:
    scene = uneven_pair(3, strip=strip, evened=evened, shadow=edge_shadow(0.22, 10.0))
    result = level(scene, blank)
    assert p95(result, seam_keep(scene)) < 0.08


def test_what_a_strip_took_out_before_is_not_taken_out_twice() -> None:
    # The same scene, corrected along the strip or not, must end the same.
    plain, evened = (level(uneven_pair(4, evened=e)) for e in (False, True))
    ends = [np.concatenate(errors(r.scene, r.gains)) for r in (plain, evened)]
    assert np.abs(ends[0] - ends[1]).mean() < 0.0005


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_even_light_stays_even(seed: int) -> None:
    scene = even_pair(seed)
    result = level(scene)
    assert mean_de(scene, result.gains) - mean_de(scene, [None, None]) < 0.05


@pytest.mark.parametrize(("depth", "width"), [(0.16, 2.0), (0.22, 10.0), (0.31, 20.0)])
def test_a_shadow_does_not_leak(depth: float, width: float) -> None:
    clean = level(uneven_pair(5))
    shaded = level(uneven_pair(5, shadow=edge_shadow(depth, width)))
    for one, two, tile in zip(clean.gains, shaded.gains, clean.scene.tiles, strict=True):
        moved = np.log(two.gain / one.gain)[tile.valid]
        assert np.abs(moved).mean() < 0.002
        assert np.abs(moved).max() < 0.01


def test_a_lifted_band_over_most_of_the_overlap_does_not_win() -> None:
    def band(x: Array, y: Array) -> Array:
        return np.asarray(0.2 * np.clip(1 - (x - FROM) / 34.0, 0, 1) * (x >= FROM) + 0.0 * y)

    result = level(uneven_pair(2, shadow=band))
    assert np.abs(steps(result)).max() < 0.5
    assert p95(result, unshaded(result.scene)) < 0.2


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_tile_without_a_strip_gets_its_gain_from_its_neighbour(seed: int) -> None:
    result = level(pair_without_strip(seed, depth=0.0, rise=0.0))
    mean = mean_errors(result).mean(axis=1)
    assert abs(mean[1]) < 0.5
    assert abs(mean[1] - mean[0]) < 0.3


def test_a_chain_of_six_neither_steps_nor_drifts() -> None:
    results = [level(chain(seed)) for seed in (1, 2, 3)]
    every_step = np.concatenate([steps(r) for r in results])
    absolute = np.concatenate([mean_errors(r).mean(axis=1) for r in results])
    assert np.sqrt(np.mean(every_step**2)) < 0.2
    assert np.sqrt(np.mean(absolute**2)) < 0.3


def test_six_turned_tiles_with_one_strip() -> None:
    result = level(grid(2, strips=(True, False, False, False, False, False)))
    assert p95(result, unshaded(result.scene)) < 0.15
    assert np.sqrt(np.mean(steps(result) ** 2)) < 0.2


def test_one_tile_upside_down_shows_a_ramp_that_strips_cannot() -> None:
    def pair(turns: int) -> Levelled:
        rng = np.random.default_rng(6)
        left, right = two_views()
        if turns:
            right = replace(right, at=(366.0, 220.0), turns=2)
        return level(scan_scene(rng, (320.0, 178.0), [left, right], tilt(0.03)))

    upright, turned = (p95(r, unshaded(r.scene)) for r in (pair(0), pair(2)))
    assert turned < 0.5 * upright


def test_fields_fade_away_from_the_overlap() -> None:
    def waves(u: Array, v: Array) -> Array:
        return np.repeat((0.01 * np.sin(v / 14.0) + 0.0 * u)[..., None], 3, axis=-1)

    rng = np.random.default_rng(7)
    left, right = two_views()
    views = [replace(left, own=waves), right]
    result = level(scan_scene(rng, (320.0, 178.0), views))
    lamp, way = np.linspace(10.0, 210.0, 41), np.linspace(40.0, 218.0, 20)
    field = result.levels.terms.on_grid(0, lamp, way, result.levels.fit.unknowns)["field"]
    size = np.abs(field[..., 0]).max(axis=0)
    overlap = lamp > FROM + left.at[0]
    far = lamp < FROM + left.at[0] - 110.0
    assert size[overlap].max() > 0.003
    assert size[far].max() < 0.35 * size[overlap].max()


def test_a_tile_apart_is_levelled_by_its_strip_and_the_shared_profile() -> None:
    rng = np.random.default_rng(8)
    views = [*two_views(), View(at=(-400.0, 40.0), gain=(1.05, 1.0, 0.97))]
    result = level(scan_scene(rng, (560.0, 178.0), views, vignette(0.05)))
    assert {t for p in result.pairs for t in (p.first, p.second)} == {0, 1}
    assert np.abs(mean_errors(result)[2]).max() < 1.0
    third = errors(result.scene, result.gains)[2].mean(axis=1)
    assert np.std(third) < 0.004


def test_one_tile_alone_and_without_a_strip_stays_as_it_is() -> None:
    scene = even_pair(1)
    alone = replace(scene.tiles[0], anchors=None, lamp=None)
    levels = solve([alone], [])
    np.testing.assert_allclose(gain_fields(levels, [alone])[0].gain, 1.0, atol=1e-6)


def test_no_tiles_are_refused() -> None:
    with pytest.raises(InputError, match="at least one tile"):
        solve([], [])


def test_many_tiles_have_wider_knots() -> None:
    area = Area(lamp=(0.0, 216.0), way=(0.0, 297.0), scan=(0.0, 216.0))
    assert field_spacing([area] * 2, 5000) == 20.0
    assert field_spacing([area] * 2, 100) == 30.0
    spacing = field_spacing([area] * 12, 50000)
    assert 12 * (216 / spacing + 3) * (297 / spacing + 3) <= MOST_UNKNOWNS


def test_the_overlap_is_where_it_should_be() -> None:
    places = level(even_pair(2)).pairs[0].places[:, 0]
    assert FROM <= places.min() <= places.max() <= TO
