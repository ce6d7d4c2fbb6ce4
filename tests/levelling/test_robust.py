"""Robust least squares with beliefs."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.levelling.robust import (
    CORRELATED,
    LEAST_SCALE,
    Block,
    fit,
    likeliest_fit,
)
from colormatch.model import FloatArray

TRUE = np.array([[0.3, 0.0, 0.1], [-0.03, 0.01, 0.0], [0.015, 0.0, 0.0]])
WEAK = (np.eye(3) * 1e-4, np.eye(3) * 1e-4)


def line_block(rng: np.random.Generator, noise: float, count: int = 400) -> Block:
    x = np.linspace(-1, 1, count)
    design = np.column_stack([np.ones(count), x, x**2])
    return Block(
        columns=np.arange(3),
        design=design,
        parts=design @ TRUE + noise * rng.standard_normal((count, 3)),
        sigma=np.full(count, 0.003),
        trusted=np.ones(count, dtype=bool),
    )


def changed(block: Block, parts: FloatArray, anchor: bool = False) -> Block:
    return Block(
        columns=block.columns,
        design=block.design,
        parts=parts,
        sigma=block.sigma,
        trusted=block.trusted,
        anchor=anchor,
    )


def test_exact_data_give_the_exact_answer() -> None:
    found = fit([line_block(np.random.default_rng(1), 0.0)], WEAK, cuts=(9.0, 9.0))
    np.testing.assert_allclose(found.unknowns, TRUE, atol=1e-7)


def test_anchors_agree_with_plain_least_squares_and_its_covariance() -> None:
    block = line_block(np.random.default_rng(2), 0.0005)
    block = changed(block, block.parts, anchor=True)
    found = fit([block], WEAK)
    weighted = np.vstack([block.design / 0.003, np.eye(3) * 1e-2])
    target = np.vstack([block.parts / 0.003, np.zeros((3, 3))])
    np.testing.assert_allclose(found.unknowns, np.linalg.lstsq(weighted, target, rcond=None)[0])
    variances = found.variances(np.arange(3), block.design)
    covariance = np.linalg.inv(weighted.T @ weighted)
    wanted = np.sum(block.design @ covariance * block.design, axis=1)
    np.testing.assert_allclose(variances, wanted, rtol=1e-8)


def test_the_scale_is_that_of_the_noise() -> None:
    found = fit([line_block(np.random.default_rng(3), 0.006)], WEAK)
    assert found.scales[0] == pytest.approx(2.0, rel=0.15)
    quiet = fit([line_block(np.random.default_rng(3), 0.0)], WEAK)
    assert quiet.scales[0] == LEAST_SCALE


def test_a_shadow_over_a_third_changes_nothing() -> None:
    block = line_block(np.random.default_rng(4), 0.002)
    dark = block.parts.copy()
    dark[:133, 0] -= 0.22
    clean, shaded = fit([block], WEAK), fit([changed(block, dark)], WEAK)
    there = block.design @ (shaded.unknowns - clean.unknowns)
    assert np.abs(there[133:]).max() < 0.002


def test_a_band_over_most_places_does_not_win_against_a_strip() -> None:
    rng = np.random.default_rng(5)
    block = line_block(rng, 0.002)
    dark = block.parts.copy()
    dark[:300, 0] -= 0.15
    strip = Block(
        columns=np.arange(3),
        design=block.design[::40],
        parts=block.parts[::40],
        sigma=np.full(10, 0.003),
        trusted=np.ones(10, dtype=bool),
        anchor=True,
    )
    found = likeliest_fit([changed(block, dark), strip], WEAK)
    there = block.design @ (found.unknowns - TRUE)
    assert np.abs(there[:, 0]).max() < 0.006


def test_nothing_but_beliefs_gives_them_back() -> None:
    found = likeliest_fit([], (np.eye(3) * 4.0, np.eye(3) * 9.0))
    assert not found.unknowns.any()
    np.testing.assert_allclose(found.factors[0].variances(np.eye(3)), 1 / 4.0)
    np.testing.assert_allclose(found.factors[1].variances(np.eye(3)), 1 / 9.0)


def test_uncertainty_counts_four_samples_as_one() -> None:
    assert CORRELATED**2 == 4.0
    found = fit([line_block(np.random.default_rng(6), 0.003)], WEAK, cuts=(9.0, 9.0, 9.0))
    design = line_block(np.random.default_rng(6), 0.0).design
    plain = np.linalg.inv(design.T @ design / 0.003**2)
    ratio = found.variances(np.arange(3), np.eye(3)) / np.diag(plain)
    np.testing.assert_allclose(ratio, 4.0 * found.scales[0] ** 2, rtol=0.01)
