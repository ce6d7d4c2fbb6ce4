"""The plan in letters."""

from __future__ import annotations

from colormatch.job.plan import plan
from colormatch.plans import Frame, Wish
from colormatch.reporting.plan_text import letters, text_plan
from colormatch.reporting.wrapping import WIDTH, duration, megabytes


def test_the_drawing_shows_every_tile_its_number_and_its_strip() -> None:
    grid = plan(Wish(painting=(500.0, 700.0))).grid
    lines = letters(grid)
    text = "\n".join(lines[:-1])
    for number in range(1, 10):
        assert str(number) in text
    assert text.count("?") == 2
    assert text.count("=====") == 3
    # Tiles 1, 3, 4 and 6 have theirs upright, three letters each.
    assert text.count("#") == 12
    upright = [line for line in lines if "1 " in line and "3 " in line]
    assert upright[0].split("|")[0].strip() == "#"


def test_a_turned_painting_has_its_top_at_the_right() -> None:
    grid = plan(Wish(painting=(240.0, 300.0), frame=Frame.PAPER)).grid
    assert "top is at the right" in letters(grid)[-1]


def test_very_many_tiles_are_not_drawn() -> None:
    grid = plan(Wish(painting=(5000.0, 300.0), frame=Frame.PAPER)).grid
    assert "--out FILE" in letters(grid)[0]


def test_lines_fit_a_terminal_but_for_the_commands() -> None:
    report = plan(Wish(painting=(500.0, 700.0)))
    lines = [line for line in text_plan(report).splitlines() if "colormatch " not in line]
    assert max(map(len, lines)) <= WIDTH


def test_quantities_have_the_unit_that_reads_best() -> None:
    assert megabytes(214_773_792) == "215 MB"
    assert megabytes(3_319_507_230) == "3.3 GB"
    assert (duration(20), duration(3540), duration(3600), duration(5400)) == (
        "1 min", "59 min", "1 h", "1 h 30 min",
    )  # fmt: skip
