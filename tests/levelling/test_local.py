"""Local differences: found, left out with their rims, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.levelling.local import RIM, local_differences
from colormatch.levelling.records import PairSamples
from colormatch.levelling.robust import Block, fit
from colormatch.model import FloatArray

ROWS, COLUMNS = 40, 14
CELLS = np.column_stack([a.ravel() for a in np.indices((ROWS, COLUMNS))])


def flagged(change: FloatArray, *, known: bool = False) -> FloatArray:
    """Where an overlap of 160 by 56 mm is left out; ``change`` is added to its noise.

    Its mean ratio is fitted, or ``known`` from elsewhere.
    """
    rng = np.random.default_rng(1)
    parts = 0.003 * rng.standard_normal((len(CELLS), 3))
    parts[:, 0] += change.ravel()
    count = len(CELLS)
    block = Block(
        columns=np.arange(1),
        design=np.ones((count, 1)),
        parts=parts,
        sigma=np.full(count, 0.004),
        trusted=np.ones(count, dtype=bool),
    )
    pair = PairSamples(
        first=0,
        second=1,
        places=CELLS[:, ::-1] * 4.0,
        cells=CELLS + 100,
        glass_first=CELLS[:, ::-1] * 4.0,
        glass_second=CELLS[:, ::-1] * 4.0,
        ratio=parts,
        lamp_ratio=np.zeros(count),
        light=np.full((count, 3), 0.5),
        sigma=block.sigma,
    )
    beliefs = (np.eye(1), np.eye(1))
    found = fit([] if known else [block], beliefs)
    trusted = local_differences(pair, block, found, 1.0 if known else found.scales[0])
    return np.asarray(~trusted.reshape(ROWS, COLUMNS))


def test_noise_alone_is_kept() -> None:
    assert not flagged(np.zeros((ROWS, COLUMNS))).any()


@pytest.mark.parametrize("depth", [0.16, 0.31])
@pytest.mark.parametrize("columns", [1, 3, 5])
def test_an_edge_shadow_is_left_out_with_its_rim(depth: float, columns: int) -> None:
    change = np.zeros((ROWS, COLUMNS))
    change[:, :columns] = -depth
    out = flagged(change)
    assert out[:, : columns + RIM].all()
    assert not out[:, columns + RIM :].any()


def test_the_bright_flank_is_left_out_too() -> None:
    change = np.zeros((ROWS, COLUMNS))
    change[10:13], change[13:15] = -0.2, 0.12
    assert flagged(change)[8:17].all()


def test_a_speck_is_left_out_alone() -> None:
    change = np.zeros((ROWS, COLUMNS))
    change[20, 7] = -0.3
    assert flagged(change).sum() == 1


def test_a_slow_change_of_two_percent_is_kept() -> None:
    slow = 0.02 * np.sin(np.linspace(0, 2 * np.pi, ROWS))[:, None] + np.zeros((ROWS, COLUMNS))
    assert flagged(slow).mean() < 0.01


def test_a_band_over_most_of_the_overlap_leaves_the_clear_rest() -> None:
    change = np.zeros((ROWS, COLUMNS))
    change[:, :9] = -0.2
    out = flagged(change, known=True)
    assert out[:, : 9 + RIM].all()
    assert not out[:, 9 + RIM :].any()
