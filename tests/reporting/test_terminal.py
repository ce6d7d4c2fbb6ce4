"""The report for the terminal: one line per tile, then what was found."""

from __future__ import annotations

from dataclasses import replace

from colormatch.merged import GamutReport, MergedReport, OverlapReport, SeamReport
from colormatch.reporting.terminal import text_report
from colormatch.verdict import Advice
from tests.reporting.records import finding, report, tile

MERGED = MergedReport(
    written="out.tif", width=1000, height=800, ppi=300.0, size=(84.7, 67.7), sheet=None,
    placing_rms=0.12, placing_largest=0.61,
    overlaps=(OverlapReport(tiles=("a", "b"), before=1.91, after=0.42, placing_rms=None),),
    seams=(SeamReport(tiles=("a", "b"), length=310.0, mean=0.21, p95=0.72, blended=0.9),),
    shares={"a": 0.6, "b": 0.4}, levels={"a": "light tied to its strip"},
    remarks=("a shadow was avoided",), uncovered=0.02,
    gamut=GamutReport(space="sRGB", share=0.001, largest=None),
)  # fmt: skip


def test_each_tile_begins_with_one_line_of_verdict() -> None:
    job = report(tile("/s/a.tif"), tile("/s/b.tif", Advice.RESCAN, (finding(Advice.RESCAN),)))
    flush = [line for line in text_report(job).splitlines() if line and line[0] != " "]
    assert flush[:2] == ["a.tif: use it", "b.tif: scan again"]


def test_a_finding_is_followed_by_its_next_step() -> None:
    lines = text_report(report(tile(findings=(finding(Advice.CARE),)))).splitlines()
    at = lines.index("    - the strip is bent & dirty [limit 0.15 mm]")
    assert lines[at + 1] == "      next: press it flat"


def test_a_finding_says_where_and_whether_it_is_a_hint() -> None:
    where = ((10.0, 20.0, 4.0, 6.0), (1.0, 1.0, 1.0, 1.0))
    lines = text_report(
        report(tile(findings=(finding(Advice.CARE, places=where, hint=True),)))
    ).splitlines()
    assert (
        "    - hint: the strip is bent & dirty [limit 0.15 mm; at 12 x 23 mm from the top left "
        "and 1 more place]"
    ) in lines


def test_a_scan_that_cannot_be_used_says_why() -> None:
    lines = text_report(report(tile("/s/a.tif", error="it is no picture"))).splitlines()
    assert lines[:2] == ["a.tif: cannot be used", "    it is no picture"]


def test_every_assumption_is_told_once() -> None:
    text = text_report(report(tile("/s/a.tif"), tile("/s/b.tif")))
    assert text.count("darker tones are <i>extrapolated</i>") == 1
    assert text.count("a strip beside a painting cannot show") == 1


def test_the_tolerance_is_told_without_claiming_more() -> None:
    assert "measured against the figures of" in text_report(report())
    assert "not reached" in text_report(report(tile(mean=30.0)))


def test_a_joined_picture_is_told() -> None:
    text = text_report(replace(report(), merged=MERGED))
    for words in ("1000 x 800 pixels", "0.12 pixels RMS", "P95 1.91 ΔE2000", "0.42 after",
                  "310 mm", "60% of the picture is from a", "2.00% of the picture is shown by no",
                  "- a shadow was avoided"):  # fmt: skip
        assert words in text
