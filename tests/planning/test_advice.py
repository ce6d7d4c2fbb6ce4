"""Advice fits what is to be laid."""

from __future__ import annotations

import pytest

from colormatch.job.plan import strip_sizes
from colormatch.planning.advice import cautions_of, laying_of
from colormatch.planning.arranging import arrange
from colormatch.plans import Frame, Wish


@pytest.mark.parametrize(
    ("frame", "said"),
    [
        (Frame.STRETCHED, ("off its stretcher", "eye protection", "tears at the fold", "FADGI")),
        (Frame.BOARD, ("scanner's rim", "larger than the lid")),
        (Frame.PAPER, ("Press loose paper", "Pastel")),
    ],
)
def test_each_kind_has_its_cautions_and_all_have_the_common_ones(
    frame: Frame, said: tuple[str, ...]
) -> None:
    text = " ".join(cautions_of(frame))
    for part in (
        *said,
        "conservator",
        "Glass breaks",
        "technician",
        "poisonous",
        "local rules",
        "Keep the scans",
    ):
        assert part in text


def test_tiles_over_the_start_of_the_glass_are_named() -> None:
    over = laying_of(arrange(Wish(painting=(297.0, 420.0), frame=Frame.PAPER), strip_sizes()))
    assert any("in tiles 3, 4 the painting itself lies across" in line for line in over)
    free = Wish(painting=(297.0, 420.0), frame=Frame.PAPER, clear=0.0)
    assert not any("across that start" in line for line in laying_of(arrange(free, strip_sizes())))


def test_a_turned_painting_is_said_to_be_turned() -> None:
    lines = laying_of(arrange(Wish(painting=(240.0, 300.0), frame=Frame.PAPER), strip_sizes()))
    assert "quarter clockwise" in lines[0]
    assert "same way up" in " ".join(lines)
