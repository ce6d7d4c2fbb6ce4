"""The page in a headless Chromium: nothing leaves it, nothing fails, all of it can be read."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from colormatch.job.merging import merge
from colormatch.job.options import MergeOptions
from colormatch.reporting.page import html_page
from colormatch.verdict import JobReport
from demo.run import draw
from tests.reporting.browser import BROWSER, Tab, browser
from tests.reporting.contrast import DRAWN, FOUND, contrast, too_faint, too_pale

pytestmark = pytest.mark.skipif(BROWSER is None, reason="chromium is not installed")

PPI = 100.0
PHONE, DESK = 390, 1280
A4_INSIDE = 688
"""Pixels across an A4 sheet within margins of 14 mm, at 96 to the inch."""
HEAVIEST = 5_000_000
SMALLEST = 7.0
"""Pixels of the smallest letters: names in plots."""
WIDER = """(() => [...document.querySelectorAll('body *')]
  .filter(e => !e.parentElement.closest('.scroll,svg'))
  .filter(e => e.getBoundingClientRect().right > innerWidth + 0.5)
  .map(e => e.tagName + ' ' + e.className))()"""
"""Gives the elements that reach beyond the window, but for what scrolls on its own."""


@pytest.fixture(scope="session")
def four(tmp_path_factory: pytest.TempPathFactory) -> tuple[JobReport, Path]:
    """Merge four tiles as a user would and leave the page."""
    folder = tmp_path_factory.mktemp("four")
    drawn = draw(folder, preset="four-tiles", ppi=PPI, seed=0)
    options = MergeOptions(
        reference=drawn.reference, out=folder / "painting.tif", report=folder / "report"
    )
    return merge(drawn.scans, options), folder / "report" / "report.html"


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tab]:
    with browser(tmp_path_factory.mktemp("profile")) as opened:
        yield opened


def fetched(tab: Tab) -> list[str]:
    """Give every address asked for, but for pictures inside the page."""
    asked = [told["request"]["url"] for told in tab.told("Network.requestWillBeSent")]
    return [address for address in asked if not address.startswith("data:")]


def complaints(tab: Tab) -> list[Any]:
    """Give script errors and everything else the browser found wrong."""
    tab.value("0")
    return [*tab.told("Runtime.exceptionThrown"), *tab.told("Log.entryAdded")]


def test_what_leaves_a_page_and_fails_in_it_would_be_noticed(tab: Tab, tmp_path: Path) -> None:
    bad = tmp_path / "bad.html"
    bad.write_text('<img src="http://127.0.0.1:9/x.png"><script>nothing()</script>')
    tab.show(bad, width=DESK)
    assert "http://127.0.0.1:9/x.png" in fetched(tab)
    assert any("nothing" in json.dumps(told) for told in complaints(tab))


def test_the_pages_own_policy_would_stop_a_request_and_a_script(
    tab: Tab, tmp_path: Path, four: tuple[JobReport, Path]
) -> None:
    policy = four[1].read_text().split('<meta http-equiv="Content-Security-Policy"')[1]
    head = f'<meta http-equiv="Content-Security-Policy"{policy.split(">")[0]}>'
    bad = tmp_path / "stopped.html"
    bad.write_text(
        f'{head}<img src="http://127.0.0.1:9/x.png"><script>document.title="ran"</script>'
    )
    tab.show(bad, width=DESK)
    assert tab.value("document.title") != "ran"
    assert sum("Content Security Policy" in told["entry"]["text"]
               for told in tab.told("Log.entryAdded")) == 2  # fmt: skip


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [PHONE, DESK])
def test_nothing_leaves_the_page_nothing_fails_nothing_is_cut_off(
    tab: Tab, four: tuple[JobReport, Path], width: int, dark: bool
) -> None:
    tab.show(four[1], width=width, dark=dark)
    assert fetched(tab) == [four[1].as_uri()]
    assert complaints(tab) == []
    assert tab.value("document.documentElement.scrollWidth") <= width
    assert tab.value(WIDER) == []
    broken = "[...document.images].filter(i => !i.naturalWidth).length"
    assert tab.value(broken) == 0
    ground = tab.value("getComputedStyle(document.body).backgroundColor")
    assert ground == ("rgb(25, 25, 25)" if dark else "rgb(243, 243, 243)")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [PHONE, DESK])
def test_every_text_can_be_read(
    tab: Tab, four: tuple[JobReport, Path], width: int, dark: bool
) -> None:
    tab.show(four[1], width=width, dark=dark)
    found = tab.value(FOUND)
    assert len(found) > 500
    assert too_faint(found) == []
    assert [one for one in found if one["size"] < SMALLEST] == []
    lines = tab.value(DRAWN)
    assert len(lines) > 500
    assert too_pale(lines) == set()


def test_faint_text_would_be_noticed(tab: Tab, tmp_path: Path) -> None:
    # WCAG 2.2, understanding 1.4.3: #777 on white is 4.47 to 1 and fails, #767676 passes.
    page = tmp_path / "faint.html"
    page.write_text(
        '<p style="color:#777">faint</p><p style="color:#767676">enough</p>'
        '<svg width="200" height="60"><rect width="200" height="60" fill="#000"/>'
        '<text y="20" fill="#333">dark</text><text y="40" fill="#fff">light</text></svg>'
    )
    tab.show(page, width=DESK)
    assert [words for words, _ in too_faint(tab.value(FOUND))] == ["faint", "dark"]
    page.write_text(
        '<section style="background:#fff"><svg><rect class="bar" width="9" height="9" '
        'fill="#999"/><rect class="curve" width="9" height="9" fill="#888"/></svg></section>'
    )
    tab.show(page, width=DESK)
    # #999 is 2.85 to 1 on white, #888 is 3.54.
    assert too_pale(tab.value(DRAWN)) == {"bar"}
    # The value for #777777 that the guidelines' own text gives.
    assert contrast([119, 119, 119], [255, 255, 255]) == pytest.approx(4.48, abs=0.01)


def test_the_text_is_there(tab: Tab, four: tuple[JobReport, Path]) -> None:
    report, page = four
    tab.show(page, width=PHONE)
    text = tab.value("document.body.innerText")
    merged = report.merged
    assert merged is not None
    for words in ("Across the seams at full size", "Where tiles differ, before levelling",
                  "Where tiles differ, after levelling", "How many places differ by how much",
                  "What levelling did to each tile", "Places where a tile was avoided",
                  "Each tile's own matrix against the shared one",
                  "What tiles miss each other by"):  # fmt: skip
        assert words in text
    for seam in merged.seams:
        assert f"{seam.tiles[0]} and {seam.tiles[1]}" in text
    # Every picture and plot says below it what good looks like.
    silent = """[...document.querySelectorAll('figure')]
      .filter(f => !f.closest('.three') && !f.closest('.lead'))
      .filter(f => !/Good:/.test(f.querySelector('figcaption').textContent))
      .map(f => f.querySelector('h4').textContent)"""
    assert tab.value(silent) == []


def test_pieces_of_seams_are_drawn_pixel_by_pixel(tab: Tab, four: tuple[JobReport, Path]) -> None:
    report, page = four
    view = report.views.merged
    assert view is not None
    assert view.crops
    for width in (PHONE, DESK):
        tab.show(page, width=width)
        shown = tab.value("""[...document.querySelectorAll('.piece')].map(p =>
          [p.querySelector('image').getBoundingClientRect().width, p.getScreenCTM().a])""")
        assert len(shown) == 3 * len(view.crops)
        wide = view.crops[0].joined.shape[1]
        assert all(w == pytest.approx(wide, abs=0.01) and s == pytest.approx(1) for w, s in shown)


def test_a_four_tile_merge_can_be_mailed(four: tuple[JobReport, Path]) -> None:
    assert four[1].stat().st_size < HEAVIEST


def test_it_is_drawn_in_colour(tab: Tab, four: tuple[JobReport, Path]) -> None:
    from PIL import Image

    tab.show(four[1], width=DESK)
    with Image.open(io.BytesIO(tab.picture())) as picture:
        assert picture.width == DESK
        # Maps, thumbnails and plots give thousands of colours, an empty page a handful.
        top = picture.convert("RGB").crop((0, 0, DESK, 4000))
        assert len(top.getcolors(1 << 23) or []) > 2000


def test_it_prints_light_and_whole(tab: Tab, four: tuple[JobReport, Path], tmp_path: Path) -> None:
    report, page = four
    tab.show(page, width=A4_INSIDE, dark=True)
    tab.do("Emulation.setEmulatedMedia", media="print",
           features=[{"name": "prefers-color-scheme", "value": "dark"}])  # fmt: skip
    assert tab.value("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert tab.value("document.documentElement.scrollWidth") <= A4_INSIDE
    assert too_faint(tab.value(FOUND)) == []
    printed = tmp_path / "page.pdf"
    printed.write_bytes(tab.pdf())
    tab.do("Emulation.setEmulatedMedia", media="")
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler-utils) is not installed")
    text = subprocess.run(
        ["pdftotext", "-layout", str(printed), "-"], capture_output=True, text=True, check=True
    ).stdout
    assert "Across the seams at full size" in text
    assert "What a strip beside a painting cannot prove" in text
    assert all(Path(tile.scan).name in text for tile in report.tiles)


def test_even_a_page_of_noise_can_be_mailed(four: tuple[JobReport, Path]) -> None:
    # Noise is the worst a JPEG can be given: no painting's page is heavier.
    rng = np.random.default_rng(5)

    def noise(like: np.ndarray) -> np.ndarray:
        return rng.integers(0, 256, like.shape, dtype=np.uint8)

    views = four[0].views
    assert views.merged is not None
    crops = tuple(
        replace(c, scanned=noise(c.scanned), matched=noise(c.matched), joined=noise(c.joined))
        for c in views.merged.crops
    )
    merged = replace(views.merged, crops=crops, seams=noise(views.merged.seams))
    tiles = {name: replace(t, thumbnail=noise(t.thumbnail)) for name, t in views.tiles.items()}
    heavy = html_page(replace(four[0], views=replace(views, tiles=tiles, merged=merged)))
    assert four[1].stat().st_size < len(heavy) < HEAVIEST
