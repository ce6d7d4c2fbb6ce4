"""Scales of which it is known how much of them a scan uses."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.inspecting.levels import range_used
from tests.inspecting.paintings import encoded, strokes
from tests.inspecting.test_picture import survey_of

PAPER_Y = 0.86


def test_fixed_settings_leave_room_at_both_ends() -> None:
    rng = np.random.default_rng(0)
    seen = encoded(np.clip(strokes((600, 500), rng), 0.02, 0.85) * 0.88, rng)
    paper = np.full(3, (PAPER_Y * 0.88) ** (1 / 2.2))
    assert range_used(survey_of(seen), paper, PAPER_Y, 2.2).measure == 0


@pytest.mark.parametrize("lost", [0.0005, 0.001])
def test_tones_stretched_to_both_ends_are_told(lost: float) -> None:
    rng = np.random.default_rng(1)
    light = strokes((600, 500), rng)
    light[:60] = PAPER_Y
    seen = encoded(light, rng)
    low, high = np.quantile(seen.reshape(-1, 3), [lost, 1 - lost], axis=0)
    paper = (np.full(3, PAPER_Y ** (1 / 2.2)) - low) / (high - low)
    found = range_used(survey_of(np.clip((seen - low) / (high - low), 0, 1)), paper, PAPER_Y, 2.2)
    assert found.beyond


def test_one_channel_short_of_its_end_is_no_stretching() -> None:
    rng = np.random.default_rng(2)
    seen = encoded(np.linspace(0, 1, 600)[:, None, None] * np.ones((600, 500, 3)), rng)
    seen[..., 2] *= 0.9
    paper = np.full(3, 0.95)
    assert not range_used(survey_of(seen), paper, PAPER_Y, 2.2).beyond
