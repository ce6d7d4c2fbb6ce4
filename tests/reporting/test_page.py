"""The page: whole in itself, everything in it, everything escaped, seen in a browser."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from colormatch.reporting.headline import headline
from colormatch.reporting.page import CANNOT_SHOW, html_page
from colormatch.verdict import Advice
from tests.reporting.conftest import Left
from tests.reporting.reading import Page, plain
from tests.reporting.records import finding, report, tile

COMMANDS = ("check", "match", "merge")
BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
)


@pytest.mark.parametrize("command", COMMANDS)
def test_nothing_is_fetched_and_nothing_runs(jobs: dict[str, Left], command: str) -> None:
    text = jobs[command].page
    page = Page(text)
    # Pictures are letters in which anything may turn up; what they are is checked below.
    written = re.sub(r'"data:image/jpeg;base64,[A-Za-z0-9+/=]+"', '""', text)
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
    # Two thumbnails and two maps.
    assert sum(a.startswith("data:image/jpeg") for a in page.addresses) == 4
    for words in ("Which part is from which tile", "What levelling did", "0.5 pixel"):
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


def browse(html_file: Path, work: Path, *more: str) -> str:
    assert BROWSER is not None
    (work / "profile").mkdir(exist_ok=True)
    command = [BROWSER, *FLAGS, f"--user-data-dir={work / 'profile'}", *more, html_file.as_uri()]
    return subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout


@pytest.mark.skipif(BROWSER is None, reason="chromium is not installed")
@pytest.mark.parametrize("width", [390, 1280])
def test_a_browser_shows_it_without_sideways_scrolling(
    jobs: dict[str, Left], tmp_path: Path, width: int
) -> None:
    frame = tmp_path / "frame.html"
    # The smallest window is wider than a phone: a frame of its width stands in.
    frame.write_text(
        f'<iframe style="border:0;width:{width}px;height:900px" '
        f'srcdoc="{html.escape(jobs["merge"].page)}"></iframe><pre id="told"></pre>'
        "<script>onload=()=>{const d=document.querySelector('iframe').contentDocument;"
        "document.getElementById('told').textContent=JSON.stringify({"
        "wide:d.documentElement.scrollWidth,ground:getComputedStyle(d.body).backgroundColor,"
        "images:[...d.querySelectorAll('svg')].filter(s=>s.getBoundingClientRect().width<50).length"
        "})}</script>",
        encoding="utf-8",
    )
    page = browse(frame, tmp_path, "--dump-dom", f"--window-size={width + 300},1000")
    told = json.loads(re.findall(r'<pre id="told">(.*?)</pre>', page)[-1])
    assert told["wide"] <= width
    assert told["ground"] == "rgb(243, 243, 243)"
    assert told["images"] == 0


@pytest.mark.skipif(BROWSER is None, reason="chromium is not installed")
def test_a_browser_draws_it(jobs: dict[str, Left], tmp_path: Path) -> None:
    from PIL import Image

    shot = tmp_path / "shot.png"
    browse(
        jobs["merge"].folder / "report.html", tmp_path, f"--screenshot={shot}",
        "--window-size=1280,2400",
    )  # fmt: skip
    with Image.open(shot) as picture:
        assert picture.size == (1280, 2400)
        # Maps, thumbnails and plots give thousands of colours, an empty page a handful.
        assert len(picture.convert("RGB").getcolors(1 << 22) or []) > 2000
