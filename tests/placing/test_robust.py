"""Maps from point pairs of which some are wrong."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.placing.robust import (
    consensus_similarity,
    fitted_affine,
    fitted_similarity,
    residuals,
    robust_affine,
)

SIMILARITY = np.array([[0.999, -0.02, 3.0], [0.02, 0.999, -5.0]])
AFFINE = np.array([[1.001, -0.02, 3.0], [0.021, 0.998, -5.0]])


def pairs(matrix: np.ndarray, count: int, wrong: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(1)
    source = rng.uniform(0, 500, (count, 2))
    target = source @ matrix[:, :2].T + matrix[:, 2] + rng.normal(0, 0.01, (count, 2))
    target[:wrong] += rng.uniform(20, 60, (wrong, 2))
    return source, target


def test_exact_pairs_give_the_similarity() -> None:
    source, target = pairs(SIMILARITY, 30, 0)
    np.testing.assert_allclose(fitted_similarity(source, target), SIMILARITY, atol=0.02)


def test_exact_pairs_give_the_affine_map() -> None:
    source, target = pairs(AFFINE, 30, 0)
    np.testing.assert_allclose(fitted_affine(source, target), AFFINE, atol=0.02)


def test_half_wrong_pairs_are_left_out() -> None:
    source, target = pairs(SIMILARITY, 40, 19)
    matrix, inlier = consensus_similarity(source, target, 1.0, max_turn=5.0, max_scale=0.03)
    assert not inlier[:19].any()
    assert inlier[19:].all()
    np.testing.assert_allclose(matrix, SIMILARITY, atol=0.05)


def test_affine_keeps_to_the_good_pairs() -> None:
    source, target = pairs(AFFINE, 60, 20)
    matrix, inlier = robust_affine(source, target, 1.0)
    assert not inlier[:20].any()
    assert residuals(matrix, source[20:], target[20:]).max() < 0.05


def test_points_in_a_line_give_a_similarity() -> None:
    source, target = pairs(SIMILARITY, 20, 0)
    source[:, 0] = 10.0
    target = source @ SIMILARITY[:, :2].T + SIMILARITY[:, 2]
    matrix, _ = robust_affine(source, target, 1.0)
    assert matrix[0, 0] == pytest.approx(matrix[1, 1])
    assert matrix[0, 1] == pytest.approx(-matrix[1, 0])
