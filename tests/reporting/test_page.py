"""The page: whole in itself, everything in it, everything escaped."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from pathlib import Path

import pytest

from colormatch.reporting.headline import headline
from colormatch.reporting.page import CANNOT_SHOW, html_page
from colormatch.verdict import Advice
from tests.reporting.conftest import Left
from tests.reporting.reading import Page, plain
from tests.reporting.records import finding, report, tile
from tests.reporting.test_terminal import MERGED

COMMANDS = ("check", "match", "merge")


@pytest.mark.parametrize("command", COMMANDS)
def test_nothing_is_fetched_and_nothing_runs(jobs: dict[str, Left], command: str) -> None:
    text = jobs[command].page
    page = Page(text)
    # Pictures are letters in which anything may turn up; what they are is checked below.
    written = re.sub(r'"data:image/(?:jpeg|png);base64,[A-Za-z0-9+/=]+"', '""', text)
    assert not re.search(r"https?:|//[a-z]|@import|url\(", written, re.IGNORECASE)
    assert {a.split(":")[0] for a in page.addresses if a[0] != "#"} == {"data"}
    assert "script" not in page.elements
    assert not page.handlers
    assert "default-src 'none'" in html.unescape(text)


@pytest.mark.parametrize("command", COMMANDS)
def test_links_lead_to_places_of_the_page(jobs: dict[str, Left], command: str) -> None:
    text = jobs[command].page
    links = {a[1:] for a in Page(text).addresses if a[0] == "#"}
    assert links
    assert links <= set(re.findall(r'id="([^"]+)"', text))


@pytest.mark.parametrize("command", COMMANDS)
def test_elements_are_closed_in_order(jobs: dict[str, Left], command: str) -> None:
    assert Page(jobs[command].page).open == []


@pytest.mark.parametrize("command", COMMANDS)
def test_a_page_can_be_mailed(jobs: dict[str, Left], command: str) -> None:
    assert len(jobs[command].page.encode()) < 5_000_000


@pytest.mark.parametrize("command", COMMANDS)
def test_verdict_findings_and_assumptions_are_told(jobs: dict[str, Left], command: str) -> None:
    job = jobs[command].report
    text = Page(jobs[command].page).text
    told = [headline(job).verdict, headline(job).to_do, *job.assumed, *CANNOT_SHOW]
    for one in job.tiles:
        told += [Path(one.scan).name, one.advice.value, one.error or "", *one.assumed]
        told += [words for f in one.findings for words in (f.text, f.next_step)]
        told += [f"Measured against the figures of {one.outcome.tolerance_set.title}"
                 for _ in (1,) if one.outcome]  # fmt: skip
    told += [] if job.merged is None else [*job.merged.remarks, *job.merged.levels.values()]
    assert [words for words in told if plain(words) not in text] == []


def test_every_patch_is_drawn(jobs: dict[str, Left]) -> None:
    text = Page(jobs["check"].page).text
    patches = jobs["check"].report.tiles[0].patches
    assert len(patches) > 30
    assert all(f"{p.id}: ΔE2000 {p.fitted:.2f}" in text for p in patches if p.fitted is not None)


def test_what_a_merge_did_is_drawn(jobs: dict[str, Left]) -> None:
    page = Page(jobs["merge"].page)
    # Two thumbnails, the map of the seams, three maps on grey, three pieces in three states.
    assert sum(a.startswith("data:image/jpeg") for a in page.addresses) == 2 + 1 + 3 + 9
    # Differences before and after, places avoided, levelling of each of two tiles.
    assert sum(a.startswith("data:image/png") for a in page.addresses) == 5
    for words in (
        "Which part is from which tile",
        "Where tiles differ, before levelling",
        "What levelling did to each tile",
        "Places where a tile was avoided",
        "Across the seams at full size",
        "0.5 pixel",
        "3. tile-1.tif and tile-2.tif",
    ):
        assert words in page.text


def test_markup_in_names_and_texts_stays_text() -> None:
    evil = finding(Advice.CARE, "see <script>alert(1)</script>", 'say "<img src=x onerror=y>"')
    job = report(tile(advice=Advice.CARE, findings=(evil,)))
    page = Page(html_page(job))
    assert page.elements.isdisjoint({"script", "img", "i", "u"})
    assert not page.handlers
    for words in ("<b>.tif", evil.text, evil.next_step, "<i>extrapolated</i>", "<u>even</u>"):
        assert words in page.text


def test_a_page_needs_no_pictures() -> None:
    text = Page(html_page(report(tile(), tile(error="cannot be read: give a TIFF")))).text
    assert "cannot be read: give a TIFF" in text
    assert "mean 0.60, P95 1.43, largest 2.44 ΔE2000" in text


def test_a_merge_of_one_tile_is_not_compared_with_others() -> None:
    alone = replace(
        MERGED, overlaps=(), seams=(), shares={"a": 1.0}, placing_rms=0.0, placing_largest=0.0
    )
    one, two = (
        Page(html_page(replace(report(), command="merge", merged=m))).text for m in (alone, MERGED)
    )
    for words in ("tiles coincide to", "Places where tiles differ", "Seams"):
        assert words not in one
        assert words in two
