"""The sentences."""

from __future__ import annotations

import pytest

from colormatch.errors import InputError
from colormatch.placing import wording


@pytest.mark.parametrize(
    "error",
    [
        wording.twice("a", "b", 0.97),
        wording.small_overlap("a", "b", 0.03),
        wording.strangers("a", "b"),
        wording.plain("a", "b"),
    ],
)
def test_refusals_name_both_tiles_and_a_next_step(error: InputError) -> None:
    text = str(error)
    assert "a" in text.split()
    assert "b" in text.split() or "b:" in text.split()
    assert any(step in text for step in ("leave", "scan", "state"))
    assert isinstance(error, InputError)


def test_scale_says_in_which_direction() -> None:
    assert "larger" in wording.scale("a", 0.99).text
    assert "smaller" in wording.scale("a", 1.01).text
