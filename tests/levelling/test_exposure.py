"""Steps of light from scan to scan."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.levelling.exposure import light_steps, strip_light


def gains(*levels: float) -> np.ndarray:
    return np.array(levels)[:, None].repeat(3, axis=1)


def test_of_two_scans_the_second_is_compared_with_the_first() -> None:
    steps = light_steps(gains(0.8, 0.92))
    np.testing.assert_allclose(steps.change, [0, 0.15], atol=1e-12)
    assert not steps.warming.any()


def test_of_more_each_is_compared_with_the_middle_one() -> None:
    steps = light_steps(gains(1.0, 1.002, 0.71, 1.001, 0.999))
    assert steps.change[2] == pytest.approx(0.71 / 1.0 - 1)
    assert np.abs(np.delete(steps.change, 2)).max() < 0.005
    assert not steps.warming.any()


def test_the_channel_that_differs_most_counts() -> None:
    light = gains(1.0, 1.0)
    light[1] *= (1.0, 0.99, 0.9)
    assert light_steps(light).change[1] == pytest.approx(-0.1)


def test_a_lamp_that_settles_exponentially_was_warming_up() -> None:
    # Newton's law of cooling: what is missing falls by the same share from scan to scan.
    missing = 0.05 * np.exp(-np.arange(5.0))
    steps = light_steps(gains(*(1 - missing)))
    expected = (1 - missing) / (1 - missing[-1]) - 1
    np.testing.assert_allclose(steps.warming, expected, rtol=0.01)


@pytest.mark.parametrize(
    "levels",
    [
        (0.95, 1.0),
        (1.0, 0.95, 1.0),
        (0.95, 0.955, 1.0),
        (0.6, 0.9, 1.0),
        (1.0, 1.002, 0.999),
    ],
    ids=["two only", "middle one", "last one", "too much for a lamp", "settled"],
)
def test_other_changes_are_no_warming_up(levels: tuple[float, ...]) -> None:
    assert not light_steps(gains(*levels)).warming.any()


def test_chance_alone_is_seldom_taken_for_warming_up() -> None:
    rng = np.random.default_rng(1)
    found = [light_steps(gains(*(1 + rng.normal(0, 0.003, 4)))).warming.any() for _ in range(400)]
    assert np.mean(found) < 0.01


def test_light_is_the_greys_over_their_reflectance() -> None:
    y = np.array([0.9, 0.5, 0.2])
    linear = y[:, None] * np.array([0.8, 0.7, 0.6])
    linear[1] *= 1.3  # one patch is off
    np.testing.assert_allclose(strip_light(linear, y), [0.8, 0.7, 0.6])
