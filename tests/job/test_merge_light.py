"""What printed greys may say about the light of tiles, and what not. Invented numbers."""

from __future__ import annotations

import numpy as np

from colormatch.job.merge_light import Greys, shared_misses
from colormatch.model import FloatArray

TINT = np.array([0.02, -0.015, 0.01])


def greys(gain: float | FloatArray, seed: int) -> Greys:
    """Ten greys that a matrix sees with a tint, under a light that is off by ``gain``."""
    rng = np.random.default_rng(seed)
    wanted = np.repeat(np.linspace(0.1, 0.8, 10)[:, None], 3, axis=1)
    ink = 0.01 * np.random.default_rng(9).standard_normal((10, 3))
    return Greys(
        points=rng.uniform(0, 900, (10, 2)),
        light=wanted * np.exp(TINT + ink - ink.mean(axis=0) + gain),
        wanted=wanted,
    )


def test_what_ink_does_in_all_tiles_alike_is_no_light() -> None:
    for found in shared_misses([greys(0.0, 1), greys(0.0, 2)], [7, 7]):
        assert found is not None
        np.testing.assert_allclose(found.residual.mean(axis=0), 0, atol=1e-12)


def test_light_that_differs_between_tiles_stays() -> None:
    first, second = shared_misses([greys(0.03, 1), greys(-0.03, 2)], [7, 7])
    assert first is not None
    assert second is not None
    apart = first.residual.mean(axis=0) - second.residual.mean(axis=0)
    np.testing.assert_allclose(apart, 0.06, atol=1e-12)


def test_light_that_changes_along_a_strip_stays() -> None:
    course = np.linspace(-0.02, 0.02, 10)[:, None] * np.ones(3)
    (found,) = shared_misses([greys(course, 1)], [7])
    (even,) = shared_misses([greys(0.0, 1)], [7])
    assert found is not None
    assert even is not None
    np.testing.assert_allclose(found.residual - even.residual, course, atol=1e-12)


def test_tiles_fitted_apart_have_tints_of_their_own_and_no_strip_stays_none() -> None:
    tinted, other = greys(0.0, 1), greys(0.05, 2)
    found = shared_misses([tinted, None, other], [7, 0, 8])
    assert found[1] is None
    for one in (found[0], found[2]):
        assert one is not None
        np.testing.assert_allclose(one.residual.mean(axis=0), 0, atol=1e-12)
