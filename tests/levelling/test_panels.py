"""Linear algebra by panels, against LAPACK as SciPy gives it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import linalg

from colormatch.levelling.panels import PANEL, factored, gram, product


@pytest.mark.parametrize("size", [1, 5, PANEL, PANEL + 1, 3 * PANEL - 2])
def test_factor_solve_and_variances_agree_with_lapack(size: int) -> None:
    rng = np.random.default_rng(size)
    root = rng.standard_normal((size, 2 * size))
    matrix = root @ root.T + np.eye(size)
    right, rows = rng.standard_normal((size, 3)), rng.standard_normal((201, size))
    found = factored(matrix)
    lower = linalg.cholesky(matrix, lower=True)
    np.testing.assert_allclose(
        found.forward(right), linalg.solve_triangular(lower, right, lower=True), atol=1e-10
    )
    np.testing.assert_allclose(
        found.solve(right), linalg.solve(matrix, right, assume_a="pos"), atol=1e-10
    )
    wanted = np.sum(rows @ linalg.inv(matrix) * rows, axis=1)
    np.testing.assert_allclose(found.variances(rows), wanted, rtol=1e-8)


def test_what_is_not_positive_definite_is_refused() -> None:
    with pytest.raises(np.linalg.LinAlgError):
        factored(np.diag([1.0, -1.0]))


@pytest.mark.parametrize("shape", [(1, 1), (3, 7), (500, 49), (1001, 130)])
def test_products_agree_with_the_plain_ones(shape: tuple[int, int]) -> None:
    rng = np.random.default_rng(1)
    a, weights = rng.standard_normal(shape), rng.uniform(0, 2, shape[0])
    b = rng.standard_normal((shape[1], 9))
    np.testing.assert_allclose(product(a, b), a @ b, atol=1e-10)
    np.testing.assert_allclose(gram(a, weights), a.T @ (a * weights[:, None]), atol=1e-9)
