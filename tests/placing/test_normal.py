"""Factors against numpy.linalg."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.placing.normal import Factor


def test_factor_agrees_with_numpy_over_ten_orders_of_scale() -> None:
    rng = np.random.default_rng(1)
    root = rng.standard_normal((30, 30))
    scale = 10.0 ** rng.uniform(-5, 5, 30)
    matrix = (root @ root.T + np.eye(30)) * scale[:, None] * scale
    right = rng.standard_normal(30) * scale
    factor = Factor(matrix)
    np.testing.assert_allclose(matrix @ factor.solve(right), right, rtol=1e-8)
    np.testing.assert_allclose(
        factor.inverse() * scale[:, None] * scale,
        np.linalg.inv(root @ root.T + np.eye(30)),
        rtol=1e-6,
        atol=1e-9,
    )
    assert factor.log_determinant() == pytest.approx(np.linalg.slogdet(matrix)[1])
