"""What befalls a strip, each effect against its stated size."""

from __future__ import annotations

import numpy as np
import pytest

from demo import strip_faults


def even(value: float = 0.5) -> strip_faults.Picture:
    return np.full((60, 400, 3), value, np.float32)


def test_paper_covers_its_share_from_the_right() -> None:
    got = strip_faults.covered(even(), 0.25, np.array([0.9, 0.8, 0.7]))
    assert (got[:, :300] == 0.5).all()
    np.testing.assert_allclose(
        got[:, 300:], np.array([0.9, 0.8, 0.7])[None, None] + 0 * got[:, 300:]
    )


def test_stains_darken_and_are_few() -> None:
    got = strip_faults.stained(even(), 3, 100, np.random.default_rng(1))
    assert got.max() <= 0.5
    assert 0 < (got[..., 0] < 0.49).mean() < 3 * np.pi * 2.6**2 / (15.24 * 101.6)
    assert (strip_faults.stained(even(), 0, 100, np.random.default_rng(1)) == 0.5).all()


def test_a_curled_end_is_darker_by_its_height() -> None:
    got = strip_faults.curled(even(), 2.0, 100)
    assert got[30, 0, 0] == pytest.approx(0.5, abs=1e-4)
    # At the middle a quarter of the height, at the end nearly all of it.
    assert got[30, 200, 0] == pytest.approx(0.5 * (1 - 0.04 * 0.5), rel=1e-3)
    assert got[30, 399, 0] == pytest.approx(0.5 * (1 - 0.04 * 2), rel=1e-3)


def test_a_curled_end_is_softer() -> None:
    stripes = even() + 0.3 * np.sin(np.arange(400) * 0.9)[None, :, None].astype(np.float32)
    got = strip_faults.curled(stripes, 3.0, 100)
    assert got[30, 360:].std() < 0.75 * got[30, :60].std()


def test_what_stands_off_the_glass_seems_nearer_to_the_middle() -> None:
    # Similar triangles: 3 mm above the glass, 90 mm from the middle, 300 mm light path.
    x, y = np.meshgrid(np.array([0.0, 180.0]), np.array([0.0]))
    seen, same = strip_faults.seen_nearer_middle(
        (x, y),
        np.array([5.0, 185.0]),
        size=(180.0, 22.0),
        curl=3.0,
        turn=np.eye(2),
        middle=95.0,
    )
    np.testing.assert_allclose(seen[0], [0.0, 180.0 + 90 * 3 / 300])
    np.testing.assert_allclose(same, y)
