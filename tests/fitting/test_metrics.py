"""Figures of the guidelines, against their worked examples and colour-science."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.colour.science import colour_science
from colormatch.colour.spaces import xyz_from_lab
from colormatch.fitting.metrics import (
    colour_metrics,
    ends_apart,
    gain_modulation,
    measured_metrics,
)
from colormatch.standards import METRICS


def test_gain_modulation_of_the_published_example() -> None:
    # Metamorfoze Preservation Imaging Guidelines 1.0 (2012), section 1.6.
    highlights, other = gain_modulation(
        np.array([94.54, 88.95, 50.0]), np.array([95.56, 84.95, 45.0])
    )
    assert highlights == pytest.approx([0.5268], abs=1e-4)
    assert other == pytest.approx([38.95 / 39.95])


def test_repeated_greys_count_as_one_step() -> None:
    highlights, other = gain_modulation(
        np.array([90.0, 91.0, 60.0, 61.0]), np.array([95.0, 95.2, 60.0, 60.4])
    )
    assert len(highlights) + len(other) == 1


def test_colour_metrics_agree_with_colour_science() -> None:
    rng = np.random.default_rng(0)
    wanted = rng.uniform([5, -60, -60], [95, 60, 60], (40, 3))
    lab = wanted + rng.normal(0, 2, wanted.shape)
    oracle = colour_science().delta_E(lab, wanted, method="CIE 2000")
    values = colour_metrics(lab, wanted)
    assert values["mean_de00"] == pytest.approx(oracle.mean())
    assert values["p95_de00"] == pytest.approx(np.percentile(oracle, 95))
    assert values["max_de76"] == pytest.approx(np.linalg.norm(lab - wanted, axis=1).max())


def test_light_at_the_ends_is_compared_relative_to_the_reference() -> None:
    grey = xyz_from_lab(np.array([[90.0, 0, 0], [75, 0, 0], [60, 0, 0]] * 2))
    along = np.array([-0.9, -0.8, -0.7, 0.7, 0.8, 0.9])
    seen = grey * np.where(along > 0, 1.02, 1.0)[:, None]
    assert ends_apart(seen, grey, along) == pytest.approx(2.0, abs=0.05)
    assert ends_apart(seen[:4], grey[:4], along[:4]) is None


def test_every_measured_key_is_a_known_metric() -> None:
    lab = np.array([[L, 0.5, -0.5] for L in (95, 90, 80, 60, 40, 20, 10)] * 2, dtype=float)
    values = measured_metrics(
        xyz_from_lab(lab + 0.5),
        xyz_from_lab(lab),
        neutral=np.ones(14, dtype=bool),
        along=np.repeat([-0.9, 0.9], 7),
        noise_l=np.full(14, 0.4),
        scale_error=0.3,
    )
    assert set(values) == set(METRICS)
