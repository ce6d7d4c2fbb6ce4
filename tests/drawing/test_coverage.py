"""Shares of pixels: against sums over fine sub-pixels, and against the disc's area."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from colormatch.drawing.coverage import box_coverage, disc_coverage

place = st.floats(-3, 12)


@given(place, place, st.floats(0.05, 9))
@settings(max_examples=60, deadline=None)
def test_disc_agrees_with_fine_sampling(x: float, y: float, radius: float) -> None:
    edges = np.arange(10.0)
    share = disc_coverage((x, y), radius, edges, edges)
    fine = (np.arange(9 * 64) + 0.5) / 64
    inside = (fine[None, :] - x) ** 2 + (fine[:, None] - y) ** 2 < radius**2
    sampled = inside.reshape(9, 64, 9, 64).mean(axis=(1, 3))
    # An edge crosses at most about 2 * 64 of a pixel's 4096 samples.
    np.testing.assert_allclose(share, sampled, atol=0.02)


def test_disc_inside_keeps_its_area() -> None:
    edges = np.linspace(0, 10, 31)
    share = disc_coverage((4.7, 5.2), 3.3, edges, edges)
    area = share.sum() * (10 / 30) ** 2
    np.testing.assert_allclose(area, np.pi * 3.3**2, rtol=1e-12)


@given(place, st.floats(0, 9))
def test_box_keeps_its_length(start: float, length: float) -> None:
    edges = np.arange(-20.0, 41.0)
    share = box_coverage(start, start + length, edges)
    np.testing.assert_allclose(share.sum(), length, atol=1e-9)
    assert ((share >= 0) & (share <= 1)).all()
