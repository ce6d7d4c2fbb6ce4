"""The paints' part of the report, on the terminal and on the page."""

from __future__ import annotations

from dataclasses import replace

from colormatch.painted import MapReport, PaintReport, Spread, SwatchReport
from colormatch.reporting.page import html_page
from colormatch.reporting.swatch_part import swatch_lines, swatch_rows
from colormatch.reporting.terminal import text_report
from tests.reporting.reading import Page
from tests.reporting.records import EYE, report, tile


def spread(mean: float) -> Spread:
    return Spread(mean=mean, p95=2 * mean, largest=3 * mean)


def one_map(model: str, paint: float) -> MapReport:
    return MapReport(
        model=model, ink=spread(1.0), ink_left_out=spread(1.11), paint=spread(paint - 0.1),
        paint_left_out=spread(paint), strip_weight=0.25, tie=0.0,
    )  # fmt: skip


SWATCHES = SwatchReport(
    scan="/scans/<i>paints.tif", reference="paints.csv", sheet="swatches in 3 rows", paints=23,
    left_out=("P7: uneven",), doubts=("P9 contradicts the others",), tiles=("a.tif",),
    model="second", why="it is nearer & better", gain=0.2, cover=0.97,
    maps=(one_map("first", 2.34), one_map("second", 1.23)), matrix=EYE, terms=(),
    coefficients=(),
    patches=(PaintReport(id="P1", wanted=(50, 0, 0), scanned=(51, 0, 0), fitted=1, left_out=1.1),),
    remarks=("the glass is dusty; wipe it",),
)  # fmt: skip


def test_the_terminal_tells_the_map_why_and_every_error() -> None:
    text = "\n".join(swatch_lines(SWATCHES))
    assert "your own paints (<i>paints.tif, 23 used): colour by the second" in text
    assert "why: it is nearer & better" in text
    assert "second (in use): paints left out of the fit ΔE2000 mean 1.23, P95 2.46" in text
    assert "first: paints left out of the fit ΔE2000 mean 2.34" in text
    assert "inks left out mean 1.11" in text
    for words in ("left out: P7: uneven", "P9 contradicts", "the glass is dusty; wipe it"):
        assert f"- {words}" in text


def test_the_page_tells_the_same_and_takes_no_name_for_markup() -> None:
    page = html_page(replace(report(tile()), swatches=SWATCHES))
    text = Page(page).text
    assert "<i>paints.tif" in text
    assert all(value in text for _, value, _ in swatch_rows(SWATCHES))
    assert "the colour of paints that are not on the sheet of your own" in text


def test_the_rule_of_thumb_gives_way_to_what_was_measured() -> None:
    plain = text_report(report(tile()))
    painted = text_report(replace(report(tile()), swatches=SWATCHES))
    assert "on paint expect 1 to 1.5 times as much" in plain
    assert "on paint expect" not in painted
    assert "the colour of paints that are not on your sheet" in painted
