"""Pieces and elements of pictures whose parts are known."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.difference import delta_e_2000
from colormatch.joining.segments import borders, elements, pieces, visible_difference


def discs(noise: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Three discs on a ground that slowly changes: CIELAB and which is which."""
    rows, columns = np.mgrid[:160, :200]
    truth = np.zeros((160, 200), int)
    lab = np.stack([60 + columns / 40, 0 * columns + 5, 10 - rows / 40], axis=-1).astype(float)
    colours = ([30, 40, 20], [50, 5, 60], [64, -4, 9])
    places = ((40, 50, 25), (100, 140, 35), (120, 40, 20))
    for k, ((row, column, radius), colour) in enumerate(zip(places, colours, strict=True)):
        inside = np.hypot(rows - row, columns - column) <= radius
        truth[inside] = k + 1
        lab[inside] = colour
    return lab + noise * rng.standard_normal(lab.shape), truth


def test_pieces_fill_the_zone_and_keep_to_the_edges() -> None:
    lab, truth = discs(0.3, np.random.default_rng(1))
    zone = np.ones(truth.shape, dtype=bool)
    zone[:, 190:] = False
    labels = pieces(lab, zone, 6)
    assert (labels[~zone] == -1).all()
    assert set(np.unique(labels[zone])) == set(range(int(labels.max()) + 1))
    mixed = [
        np.bincount(truth[labels == k]).max() / (labels == k).sum()
        for k in range(int(labels.max()) + 1)
    ]
    assert np.mean(mixed) > 0.99


@pytest.mark.parametrize("noise", [0.0, 0.5])
def test_elements_are_the_discs_and_the_ground(noise: float) -> None:
    lab, truth = discs(noise, np.random.default_rng(2))
    labels = pieces(lab, np.ones(truth.shape, dtype=bool), 6)
    element = elements(lab, labels)[labels]
    for k in range(4):
        mine = element[truth == k]
        number = np.bincount(mine).argmax()
        # Found almost whole, and holding almost nothing else.
        assert (mine == number).mean() > 0.97
        assert (truth[element == number] == k).mean() > 0.97


def test_borders_are_all_neighbours_that_differ() -> None:
    labels = np.array([[0, 0, 1], [2, 0, 1]])
    one, other = borders(labels)
    assert sorted(zip(one.tolist(), other.tolist(), strict=True)) == [
        (0, 3),
        (1, 2),
        (3, 4),
        (4, 5),
    ]


def test_quick_difference_is_near_ciede2000_where_seams_are_weighed() -> None:
    # Against colour-science, over small steps between colours that paint can have.
    rng = np.random.default_rng(3)
    lab = rng.uniform([20, -50, -50], [95, 50, 50], (2000, 3))
    other = lab + rng.normal(0, 1.5, lab.shape)
    ratio = visible_difference(lab, other) / delta_e_2000(lab, other)
    assert 0.9 < np.median(ratio) < 1.6
    assert np.percentile(ratio, 1) > 0.5
    assert np.percentile(ratio, 99) < 2.6
