"""The demo leaves what its description promises."""

from __future__ import annotations

from pathlib import Path

from colormatch.job.demo import run_demo
from colormatch.model import silent
from demo.run import draw
from tests.reporting.reading import Page


def test_the_demos_page_shows_the_merge_and_what_became_of_each_tile(tmp_path: Path) -> None:
    report = run_demo(
        tmp_path / "out", draw, scene="two-tiles", ppi=100.0, force=False, progress=silent
    )
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    for words in (
        "Across the seams at full size",
        "Where tiles differ, after levelling",
        "What levelling did to each tile",
        "Places where a tile was avoided",
    ):
        assert words in page
    # Two pieces in three states: so small a picture has no room for a third.
    assert page.count('class="plot piece"') == 6
    text = Page(page).text
    assert all(tile.written and tile.written in text for tile in report.tiles)
    assert (tmp_path / "out" / "maps" / "levelling.png").exists()
