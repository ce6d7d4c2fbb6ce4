"""Rows of figures and the table against limits."""

from __future__ import annotations

from dataclasses import replace

from colormatch.merged import GamutReport
from colormatch.reporting.figures import (
    across_rows,
    colour_rows,
    level_table,
    result_rows,
    scan_rows,
)
from colormatch.standards.tolerances import levels_reached, tolerance_set
from tests.reporting.records import colour, report, tile


def test_every_colour_figure_has_its_unit_and_says_what_good_is() -> None:
    rows = colour_rows(colour())
    values = " ".join(row.value for row in rows)
    for figure in ("mean 0.60, P95 1.43, largest 2.44 ΔE2000", "blue -8.8 %", "left -1.7 %",
                   "1.9 % of the surrounding light", "0.14 ΔE2000", "lost 23 %",
                   "power 2.21 (82 %)"):  # fmt: skip
        assert figure in values
    assert all(row.good for row in rows)


def test_the_strip_is_told_in_its_own_millimetres() -> None:
    values = " ".join(row.value for row in scan_rows(tile()))
    assert "300.4 × 301.1 ppi" in values
    assert "3 of 4 marks, 2 of 3 patches" in values
    # 0.25 pixel at 300.75 ppi is 0.02 mm.
    assert "marks 0.02 mm RMS" in values
    assert scan_rows(replace(tile(), width=0)) == []


def test_a_table_has_a_limit_per_level_and_says_what_was_met() -> None:
    outcome = levels_reached(tolerance_set("fadgi-2016"), {"mean_de00": 3.0, "noise_l": 0.4})
    table = level_table(outcome)
    assert table.levels == ("4-star", "3-star", "2-star", "1-star")
    assert table.reached == "3-star reached"
    rows = {title: (value, cells) for title, _, value, cells in table.rows}
    value, cells = rows["mean colour difference (CIEDE2000)"]
    assert value == "3.00 ΔE"
    # Limits of the table for paintings, FADGI 2016: 2, 4, 6, 10.
    assert cells == (("< 2", "missed"), ("< 4", "met"), ("< 6", "met"), ("< 10", "met"))
    assert rows["scale accuracy"][0] == "not measured"
    assert rows["scale accuracy"][1][0][1] == "open"


def test_a_set_of_one_level_does_not_name_it() -> None:
    outcome = levels_reached(tolerance_set("matched"), {"mean_de00": 0.1, "p95_de00": 0.2})
    assert level_table(outcome).reached == "reached"


def test_nothing_reached_is_said() -> None:
    outcome = levels_reached(tolerance_set("matched"), {"mean_de00": 30.0})
    assert level_table(outcome).reached == "not reached"


def test_what_was_written_and_clipped_is_told() -> None:
    gamut = GamutReport(space="sRGB", share=0.0123, largest=4.56)
    rows = result_rows(replace(tile(), written="out/a.tif", gamut=gamut))
    assert rows[0].value == "out/a.tif"
    assert "1.23 %" in rows[1].value
    assert "4.6 ΔE2000" in rows[1].value
    assert result_rows(tile()) == []


def test_agreement_and_groups_are_told() -> None:
    job = replace(report(), agreement=0.21, groups=(("/s/a.tif", "/s/b.tif"), ("/s/c.tif",)))
    values = [row.value for row in across_rows(job)]
    assert values == ["0.21 ΔE2000 mean", "a.tif, b.tif; c.tif"]
