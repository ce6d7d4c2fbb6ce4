"""The verdict over all tiles and the one thing to do."""

from __future__ import annotations

from dataclasses import replace

from colormatch.reporting.headline import MEASURE, NEXT, headline
from colormatch.verdict import Advice
from tests.reporting.records import finding, report, tile

GOOD = tile("/scans/good.tif")
CARE = tile(
    "/scans/care.tif", Advice.CARE, (finding(Advice.USE, step="nothing"), finding(Advice.CARE))
)
AGAIN = tile("/scans/again.tif", Advice.RESCAN, (finding(Advice.RESCAN, step="scan it anew."),))


def test_the_gravest_tile_decides() -> None:
    top = headline(report(GOOD, CARE, AGAIN))
    assert top.advice is Advice.RESCAN
    assert (top.where, top.to_do) == ("again.tif", "Scan it anew.")
    assert top.verdict == "1 of 3 scans should be made again."


def test_the_finding_that_gave_the_advice_says_what_to_do() -> None:
    top = headline(report(GOOD, CARE))
    assert (top.advice, top.to_do) == (Advice.CARE, "Press it flat.")


def test_a_scan_that_cannot_be_used_gives_its_own_next_step() -> None:
    bad = tile("/x/bad.tif", Advice.RESCAN, error="/x/bad.tif: no picture; give the scan")
    assert headline(report(bad)).to_do == "No picture; give the scan."


def test_good_scans_go_on_to_the_next_step() -> None:
    assert headline(report(GOOD)).to_do == NEXT["check"]
    assert headline(report(GOOD)).verdict == "The scan can be used."


def test_nominal_values_are_the_first_thing_to_mend() -> None:
    assert headline(report(GOOD, kind="nominal")).to_do == MEASURE
    assert headline(report(AGAIN, kind="nominal")).to_do != MEASURE


def test_what_was_written_is_said() -> None:
    done = replace(GOOD, written="out/good.tif")
    assert headline(report(done, command="match")).verdict.endswith("1 matched tile was written.")
    assert headline(report(AGAIN, command="match")).verdict.endswith("nothing was written.")
