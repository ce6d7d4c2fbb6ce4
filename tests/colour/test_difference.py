"""Colour differences and the local metric."""

from __future__ import annotations

import ast
import time
from pathlib import Path
from typing import TypeGuard

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.colour.difference import delta_e_2000, metric_roots
from colormatch.colour.science import colour_science
from colormatch.colour.spaces import lab_from_xyz
from colormatch.model import FloatArray

# G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula", Color Res.
# Appl. 30(1), 2005, table 1: L*, a*, b* of the first, of the second, difference.
# The pairs are as colour-science carries them in its own tests (checked below).
SHARMA = """
50.0000 2.6772 -79.7751 50.0000 0.0000 -82.7485 2.0425
50.0000 3.1571 -77.2803 50.0000 0.0000 -82.7485 2.8615
50.0000 2.8361 -74.0200 50.0000 0.0000 -82.7485 3.4412
50.0000 -1.3802 -84.2814 50.0000 0.0000 -82.7485 1.0000
50.0000 -1.1848 -84.8006 50.0000 0.0000 -82.7485 1.0000
50.0000 -0.9009 -85.5211 50.0000 0.0000 -82.7485 1.0000
50.0000 0.0000 0.0000 50.0000 -1.0000 2.0000 2.3669
50.0000 -1.0000 2.0000 50.0000 0.0000 0.0000 2.3669
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0009 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0010 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0011 7.2195
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0012 7.2195
50.0000 -0.0010 2.4900 50.0000 0.0009 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0010 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0011 -2.4900 4.7461
50.0000 2.5000 0.0000 50.0000 0.0000 -2.5000 4.3065
50.0000 2.5000 0.0000 73.0000 25.0000 -18.0000 27.1492
50.0000 2.5000 0.0000 61.0000 -5.0000 29.0000 22.8977
50.0000 2.5000 0.0000 56.0000 -27.0000 -3.0000 31.9030
50.0000 2.5000 0.0000 58.0000 24.0000 15.0000 19.4535
50.0000 2.5000 0.0000 50.0000 3.1736 0.5854 1.0000
50.0000 2.5000 0.0000 50.0000 3.2972 0.0000 1.0000
50.0000 2.5000 0.0000 50.0000 1.8634 0.5757 1.0000
50.0000 2.5000 0.0000 50.0000 3.2592 0.3350 1.0000
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
61.2901 3.7196 -5.3901 61.4292 2.2480 -4.9620 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645
22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
36.4612 47.8580 18.3852 36.2715 50.5065 21.2231 1.4146
90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""
PAIRS = np.array([line.split() for line in SHARMA.split("\n") if line], dtype=float)
TIE = 13
"""Row of pair 14: hues exactly half a turn apart, decided by rounding."""

LAB = st.tuples(st.floats(1, 99), st.floats(-90, 90), st.floats(-90, 90))


def test_all_34_published_pairs() -> None:
    found = delta_e_2000(PAIRS[:, :3], PAIRS[:, 3:6])
    others = np.delete(np.arange(34), TIE)
    assert len(PAIRS) == 34
    np.testing.assert_allclose(found[others], PAIRS[others, 6], atol=5.1e-5)
    assert min(abs(found[TIE] - 4.7461), abs(found[TIE] - 4.8045)) < 5.1e-5


def test_colour_science_carries_the_same_table() -> None:
    source = pytest.importorskip("colour.difference.tests.test_delta_e").__file__
    tree = ast.parse(Path(source).read_text(encoding="utf-8"))
    (test,) = (
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef) and node.name.endswith("CIE2000_Sharma2004")
    )
    first, second, differences = (
        np.array(ast.literal_eval(node)) for node in ast.walk(test) if _is_table(node)
    )
    rows = np.column_stack([first, second])
    np.testing.assert_array_equal(rows, np.delete(PAIRS, TIE, axis=0)[:, :6])
    np.testing.assert_allclose(differences, np.delete(PAIRS, TIE, axis=0)[:, 6], atol=5.1e-5)


def _is_table(node: ast.AST) -> TypeGuard[ast.List]:
    return isinstance(node, ast.List) and len(node.elts) == 33


def test_variant_without_lightness_weight_is_the_same_where_sl_is_1() -> None:
    # SL = 1 where the mean lightness is 50, so there colour-science gives both.
    rng = np.random.default_rng(2)
    first, second = rng.uniform(-60, 60, (2, 300, 3))
    first[:, 0] = rng.uniform(20, 80, 300)
    second[:, 0] = 100 - first[:, 0]
    np.testing.assert_allclose(
        delta_e_2000(first, second, lightness_weight=False),
        delta_e_2000(first, second),
        rtol=1e-9,
    )


@given(LAB, LAB)
def test_variant_replaces_the_lightness_term_alone(
    first: tuple[float, float, float], second: tuple[float, float, float]
) -> None:
    # Source: ISO/CIE 11664-6, the formula for SL, written out here.
    off = ((first[0] + second[0]) / 2 - 50) ** 2
    weight = 1 + 0.015 * off / np.sqrt(20 + off)
    step = first[0] - second[0]
    expected = delta_e_2000(first, second) ** 2 + step**2 * (1 - weight**-2)
    found = delta_e_2000(first, second, lightness_weight=False) ** 2
    np.testing.assert_allclose(found, expected, rtol=1e-8, atol=1e-8)


def test_variant_on_greys_is_the_lightness_difference() -> None:
    assert delta_e_2000((90, 0, 0), (87, 0, 0), lightness_weight=False) == pytest.approx(3)
    assert delta_e_2000((90, 0, 0), (87, 0, 0)) < 2.1


@given(LAB, LAB)
def test_symmetric_and_zero_only_for_equals(
    first: tuple[float, float, float], second: tuple[float, float, float]
) -> None:
    assert delta_e_2000(first, second) == pytest.approx(float(delta_e_2000(second, first)))
    assert delta_e_2000(first, first) == 0


def test_leading_shapes_broadcast() -> None:
    assert delta_e_2000(np.ones((4, 5, 3)), np.zeros(3)).shape == (4, 5)


def _colours(n: int) -> FloatArray:
    rng = np.random.default_rng(3)
    rgb = rng.uniform(0, 1, (n, 3)) ** 2
    return np.asarray(rgb @ np.array([[0.44, 0.39, 0.14], [0.22, 0.72, 0.06], [0.01, 0.1, 0.71]]).T)


def test_metric_gives_the_difference_of_small_errors() -> None:
    xyz = _colours(400)
    rng = np.random.default_rng(4)
    error = 0.002 * xyz * rng.standard_normal(xyz.shape)
    predicted = np.linalg.norm(np.einsum("nij,nj->ni", metric_roots(xyz), error), axis=1)
    found = delta_e_2000(lab_from_xyz(xyz), lab_from_xyz(xyz + error))
    assert found.max() > 0.2
    np.testing.assert_allclose(predicted, found, rtol=0.03, atol=1e-3)


def test_metric_shrinks_to_the_derivative() -> None:
    xyz = _colours(50)
    error = 1e-5 * xyz * np.random.default_rng(5).standard_normal(xyz.shape)
    predicted = np.linalg.norm(np.einsum("nij,nj->ni", metric_roots(xyz), error), axis=1)
    found = delta_e_2000(lab_from_xyz(xyz - error / 2), lab_from_xyz(xyz + error / 2))
    np.testing.assert_allclose(predicted, found, rtol=1e-3)


@pytest.mark.parametrize(
    "xyz",
    [[0, 0, 0], [1e-6, 1e-6, 1e-6], [-0.01, 0.2, 0.1], [0.9642, 1, 0.8249], [2, 2, 2], [0, 0, 1]],
)
def test_metric_has_full_rank_at_the_ends(xyz: list[float]) -> None:
    (root,) = metric_roots([xyz])
    assert np.isfinite(root).all()
    assert np.linalg.svd(root, compute_uv=False).min() > 1


def test_metric_refuses_what_is_not_finite() -> None:
    with pytest.raises(ValueError, match="finite"):
        metric_roots([[np.nan, 1, 1]])


def test_metric_is_quick() -> None:
    xyz = _colours(50)
    colour_science()
    metric_roots(xyz)
    times = []
    for _ in range(5):
        start = time.perf_counter()
        metric_roots(xyz)
        times.append(time.perf_counter() - start)
    assert min(times) < 0.02
