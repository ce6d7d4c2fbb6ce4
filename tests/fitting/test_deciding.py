"""When paints join, when the root-polynomial is used, and when it is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.fitting.deciding import Decision, Model, WhyNot, covered, decide
from colormatch.fitting.judging import difference
from colormatch.fitting.maps import Hull
from colormatch.fitting.paints import Rows, paint_score
from tests.fitting.paint_rows import MATRIX, WHITE, bent, made_rows, plain_matrix, read, real
from tests.fitting.paint_rows import some_light as light_of


def rows_where(truth: object, *, paints: int = 24, seed: int = 0) -> Rows:
    """Inks by the plain matrix; paints by ``truth``, a function of light."""
    rng = np.random.default_rng(seed)
    ink, paint = light_of(rng, 40), light_of(rng, paints + 2)[2:]
    return made_rows(ink, read(ink @ MATRIX.T, rng), paint, read(truth(paint), rng))  # type: ignore[operator]


def decided(rows: Rows, *pictures: np.ndarray) -> Decision:
    return decide(rows, plain_matrix(rows), pictures)


def test_paints_that_bend_are_followed_and_their_colour_is_then_right() -> None:
    rows = rows_where(bent)
    decision = decided(rows, rows.light[rows.paint])
    assert decision.model is Model.ROOTS
    assert decision.why_not is None
    assert decision.gain is not None
    assert decision.gain > 0.15
    fresh = 0.9 * light_of(np.random.default_rng(99), 60)
    fresh = fresh[decision.map.hull.beyond(fresh_shares(fresh)) < 0]  # type: ignore[union-attr]
    assert difference(decision.map.xyz(fresh), bent(fresh)).mean() < 0.4
    plain = decision.fits[Model.PAINTS].map
    assert difference(plain.xyz(fresh), bent(fresh)).mean() > 0.8


def fresh_shares(light: np.ndarray) -> np.ndarray:
    relative = light / WHITE
    return np.asarray(relative[:, [0, 2]] / relative.sum(axis=1, keepdims=True))


def test_paints_that_a_3x3_serves_leave_it_in_use() -> None:
    other = MATRIX * np.array([[1.0, 1.02, 0.9], [0.97, 1.01, 1.2], [1.0, 0.8, 1.02]])
    kept = (MATRIX @ WHITE / (other @ WHITE))[:, None] * other
    decision = decided(rows_where(lambda light: light @ kept.T))
    assert decision.model is Model.PAINTS
    assert decision.why_not is WhyNot.GAIN
    assert decision.gain is not None
    assert decision.gain < 0.15


def test_a_picture_of_hues_that_were_not_painted_keeps_the_3x3() -> None:
    rng = np.random.default_rng(3)
    earth = light_of(rng, 26)[2:] * 0.3 + np.array([0.3, 0.2, 0.12])
    ink = light_of(rng, 40)
    rows = made_rows(ink, read(ink @ MATRIX.T, rng), earth, read(bent(earth), rng))
    blue = np.tile([0.1, 0.2, 0.7], (500, 1))
    decision = decided(rows, blue)
    assert decision.cover == pytest.approx(0.0, abs=0.01)
    assert decision.model is not Model.ROOTS
    assert decided(rows, earth).cover == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize(
    ("paints", "known"), [(5, {Model.STRIP}), (11, {Model.STRIP, Model.PAINTS})]
)
def test_few_paints_say_little(paints: int, known: set[Model]) -> None:
    decision = decided(rows_where(bent, paints=paints))
    assert decision.why_not is WhyNot.FEW
    assert set(decision.fits) == known


def test_paints_of_one_hue_cannot_carry_a_root_polynomial() -> None:
    rng = np.random.default_rng(4)
    ink = light_of(rng, 40)
    ochres = np.outer(np.linspace(0.1, 0.8, 14), np.array([0.8, 0.5, 0.2]))
    rows = made_rows(ink, read(ink @ MATRIX.T, rng), ochres, read(bent(ochres), rng))
    assert decided(rows).model is not Model.ROOTS


def test_the_paper_keeps_its_measured_colour_under_a_root_polynomial() -> None:
    rows = rows_where(bent)
    fit = decided(rows, rows.light).fits[Model.ROOTS]
    measured = rows.xyz[rows.paper].mean(axis=0)
    np.testing.assert_allclose(fit.map.xyz(rows.white), measured, atol=1e-9)
    np.testing.assert_allclose(fit.map.xyz(0.2 * rows.white), 0.2 * measured, atol=1e-9)


def test_left_out_errors_are_those_of_fits_without_the_row() -> None:
    # Brute force against the formula of Cook and Weisberg 1982, section 2.2.
    rows = rows_where(bent, paints=14)
    matrix = plain_matrix(rows)
    from colormatch.fitting import paints

    base, terms = paints.white_kept(rows, matrix), paints.rich(rows)
    _, _, out = paints._solved(rows, base, terms, 0.25, 10.0)
    for row in (3, 41, 52):
        trust = rows.trust.copy()
        trust[row] = 1e-12
        alone = paints._solved(replace(rows, trust=trust), base, terms, 0.25, 10.0)
        np.testing.assert_allclose(out[row], alone[1][row], rtol=1e-4, atol=1e-6)


def test_a_paint_left_out_is_judged_with_the_hull_it_leaves_behind() -> None:
    from colormatch.fitting import paints

    rows = rows_where(bent, paints=14)
    hull = paints.paint_hull(rows)
    assert hull is not None
    trust = paints.hull_without_each(rows, hull)
    part = fresh_shares(rows.light)
    whole = hull.trust(part)
    assert (trust <= whole + 1e-12).all()
    np.testing.assert_array_equal(trust[~rows.paint], whole[~rows.paint])
    # The purest red stands at the rim, and falls out of the hull that it made.
    reddest = int(np.argmax(np.where(rows.paint, part[:, 0], 0)))
    assert hull.beyond(part[reddest]) < 1e-9
    assert trust[reddest] < 1.0


def test_a_swatch_with_a_wrong_number_counts_less_and_is_told_by_its_error() -> None:
    rows = rows_where(bent)
    xyz = rows.xyz.copy()
    wrong = int(np.flatnonzero(rows.paint)[7])
    xyz[wrong] = xyz[wrong][::-1] * 1.3
    from colormatch.fitting.paints import trusted

    spoilt = replace(rows, xyz=xyz)
    spoilt = replace(spoilt, trust=trusted(spoilt, plain_matrix(spoilt)))
    assert spoilt.trust[wrong] < 0.5
    assert spoilt.trust[rows.paint].mean() > 0.85
    decision = decided(spoilt, rows.light[rows.paint])
    fresh = rows.light[rows.paint]
    assert difference(decision.map.xyz(fresh), bent(fresh)).mean() < 1.0


@pytest.mark.parametrize("lamp", ["FL2", "FL11", "LED-B1", "LED-B3"])
def test_on_real_spectra_paints_do_not_make_unseen_ones_worse(lamp: str) -> None:
    # CIE 224:2017 samples in three parts: strip, paints, and what neither has seen.
    rows, light, xyz = real(lamp)
    decision = decided(rows, light)
    unseen = difference(decision.map.xyz(light), xyz).mean()
    strip = difference(decision.fits[Model.STRIP].map.xyz(light), xyz).mean()
    # 5 % is what a decision by 33 noisy paints may be off by chance.
    assert unseen < 1.05 * strip
    fit = decision.fits[decision.model]
    assert paint_score(fit, rows) == pytest.approx(unseen, rel=0.35)


def test_grey_and_dim_places_say_nothing_of_cover() -> None:
    hull = Hull.around(np.array([[0.3, 0.3], [0.5, 0.3], [0.3, 0.5]]))
    assert hull is not None
    grey = np.outer(np.linspace(0.1, 1, 50), WHITE)
    dim = np.full((50, 3), 1e-3) * np.array([1, 0, 0])
    assert covered(hull, [grey, dim], WHITE) == 1.0
    green = np.array([[0.1, 0.6, 0.1]])
    assert covered(hull, [grey, green], WHITE) == 0.0
