"""Which sizes of marks are tried."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.finding.scales import likely_scales, reduced, stated_ppi


@pytest.mark.parametrize(
    ("stated", "believed"),
    [(None, None), (300.0, 300.0), ((600.0, 600.0), 600.0), ((1.0, 1.0), None), (9e5, None)],
)
def test_believes_only_what_can_be(
    stated: tuple[float, float] | float | None, believed: float | None
) -> None:
    assert stated_ppi(stated) == (None if believed is None else pytest.approx(believed))


def test_tries_what_the_file_states_first() -> None:
    first, rest = likely_scales((300.0, 300.0), 4)
    assert first == [pytest.approx(300 / 25.4 / 4)]
    assert len(rest) > 10


def test_no_resolution_in_the_range_is_far_from_one_tried() -> None:
    (ladder,) = likely_scales(None, 3)
    for ppi in np.geomspace(100, 1200, 200):
        assert min(abs(ppi / 25.4 / 3 / rung - 1) for rung in ladder) < 0.06


def test_a_picture_too_large_is_reduced_in_whole_blocks() -> None:
    rng = np.random.default_rng(1)
    large = rng.random((2501, 3002, 3), dtype=np.float32)
    small, step = reduced(large, 2)
    assert (small.shape, step) == ((1250, 1501, 3), 4)
    np.testing.assert_allclose(small[7, 9], large[14:16, 18:20].mean(axis=(0, 1)), atol=1e-6)
    same, step = reduced(large[:1000, :1000], 2)
    assert (same.shape, step) == ((1000, 1000, 3), 2)
