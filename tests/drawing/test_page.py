"""The printed sheet, as an independent program renders it (pdftoppm of poppler-utils)."""

from __future__ import annotations

import dataclasses
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from colormatch.drawing import draw_page
from colormatch.drawing.colours import patch_codes
from colormatch.drawing.page import copy_corners, rule_top
from colormatch.errors import LayoutError
from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.model import FloatArray, Layout, Reference
from colormatch.symbols.micro import text_of

SERIALS = ("7F3-K2A", "7F3-K2B")
PPI = 1200
PER_MM = PPI / 25.4

needs_pdftoppm = pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="pdftoppm is not installed (Debian: poppler-utils)"
)


@pytest.fixture(scope="module", params=["strip-long", "strip-short"])
def strip(request: pytest.FixtureRequest) -> tuple[Layout, Reference]:
    return shipped_layouts()[request.param], shipped_reference(request.param)


@pytest.fixture(scope="module")
def rendered(
    strip: tuple[Layout, Reference], tmp_path_factory: pytest.TempPathFactory
) -> NDArray[np.uint8]:
    """Give the upper half of the page at 1200 ppi; pixel 0 begins at the page's corner."""
    folder = tmp_path_factory.mktemp("page")
    (folder / "page.pdf").write_bytes(draw_page(*strip, SERIALS))
    return _rendered(folder / "page.pdf")


def _rendered(path: Path) -> NDArray[np.uint8]:
    crop = ["-x", "0", "-y", "0", "-W", str(int(210 * PER_MM)), "-H", str(int(140 * PER_MM))]
    command = ["pdftoppm", "-r", str(PPI), *crop, "-singlefile", str(path), str(path.parent / "p")]
    subprocess.run(command, check=True, timeout=120)
    # 1200 ppi is more than Pillow expects of a picture from somewhere else.
    Image.MAX_IMAGE_PIXELS, limit = None, Image.MAX_IMAGE_PIXELS
    try:
        with Image.open(path.parent / "p.ppm") as picture:
            return np.asarray(picture)
    finally:
        Image.MAX_IMAGE_PIXELS = limit


def _centroid(weight: FloatArray) -> tuple[float, float]:
    """Give x and y of the first moment, in pixels from the window's border."""
    y, x = np.indices(weight.shape) + 0.5
    return float((x * weight).sum() / weight.sum()), float((y * weight).sum() / weight.sum())


@needs_pdftoppm
def test_rule_is_a_hundred_millimetres(
    strip: tuple[Layout, Reference], rendered: NDArray[np.uint8]
) -> None:
    row = int((rule_top(strip[0]) - 4.2) * PER_MM)
    # The row crosses only the ticks of every tenth millimetre.
    dark = 1 - rendered[row, :, 0] / 255.0
    starts = np.flatnonzero(np.diff(np.concatenate([[0], dark > 0.5])) > 0)
    assert len(starts) == 11
    middles = []
    for start in starts:
        window = slice(start - 5, start + 20)
        middles.append(start - 5 + _centroid(dark[None, window])[0])
    length = (middles[-1] - middles[0]) / PER_MM
    assert abs(length - 100) < 0.05
    np.testing.assert_allclose(np.diff(middles) / PER_MM, 10, atol=0.03)


@needs_pdftoppm
def test_marks_are_within_a_fiftieth_of_a_millimetre(
    strip: tuple[Layout, Reference], rendered: NDArray[np.uint8]
) -> None:
    layout, _ = strip
    for left, top in copy_corners(layout):
        for mark in layout.marks:
            x, y = (left + mark.x) * PER_MM, (top + mark.y) * PER_MM
            half = int(0.6 * mark.diameter / 2 * PER_MM)
            column, row = int(x) - half, int(y) - half
            window = rendered[row : row + 2 * half, column : column + 2 * half, 0] / 255.0
            radius = np.hypot(*(np.indices(window.shape) + 0.5 - half))
            # Inside this radius there is one ring of the inner ground and its disc.
            ground = np.median(window[(radius > 0.93 * half) & (radius < 0.97 * half)])
            weight = np.where(radius < 0.95 * half, np.abs(window - ground), 0)
            found = np.array(_centroid(weight)) + np.array([column, row])
            assert np.abs((found - (x, y)) / PER_MM).max() < 0.02, mark.id


@needs_pdftoppm
def test_patches_are_where_and_what_the_layout_says(
    strip: tuple[Layout, Reference], rendered: NDArray[np.uint8]
) -> None:
    layout, reference = strip
    codes = patch_codes(layout, reference)
    inset = 0.03
    for left, top in copy_corners(layout):
        for patch in layout.patches:
            x, y = left + patch.x, top + patch.y
            rows = slice(
                int((y + inset) * PER_MM) + 1, int((y + patch.height - inset) * PER_MM) - 1
            )
            columns = slice(
                int((x + inset) * PER_MM) + 1, int((x + patch.width - inset) * PER_MM) - 1
            )
            inner = rendered[rows, columns].reshape(-1, 3)
            assert (inner == codes[patch.id]).all(), patch.id


@needs_pdftoppm
def test_strip_begins_and_ends_where_it_should(
    strip: tuple[Layout, Reference], rendered: NDArray[np.uint8]
) -> None:
    layout, _ = strip
    left, top = copy_corners(layout)[0]
    # A row through the grey above the patches, a column through the grey at the left.
    row = rendered[int((top + 1.0) * PER_MM), :, 0] < 200
    column = rendered[: int((top + layout.height + 0.9) * PER_MM), int((left + 0.5) * PER_MM), 0]
    ink = np.flatnonzero(row) / PER_MM
    assert abs(ink[0] - left) < 0.04
    assert abs(ink[-1] + 1 / PER_MM - left - layout.width) < 0.04
    ink = np.flatnonzero(column[int((top - 0.9) * PER_MM) :] < 200) / PER_MM
    assert abs(np.ptp(ink) + 1 / PER_MM - layout.height) < 0.05


@needs_pdftoppm
@pytest.mark.parametrize("copy", [0, 1])
def test_each_copys_symbol_states_its_own_serial(
    copy: int, strip: tuple[Layout, Reference], rendered: NDArray[np.uint8]
) -> None:
    layout, _ = strip
    assert layout.symbol is not None
    left, top = copy_corners(layout)[copy]
    middles = (np.arange(15) + 0.5) * layout.symbol.side / 15
    rows = ((top + layout.symbol.y + middles) * PER_MM).astype(int)
    columns = ((left + layout.symbol.x + middles) * PER_MM).astype(int)
    dark = rendered[rows[:, None], columns, 1] < 128
    assert text_of(dark) == (f"{layout.symbol.design} {SERIALS[copy]}", 0)


def test_same_bytes_every_time(strip: tuple[Layout, Reference]) -> None:
    assert draw_page(*strip) == draw_page(*strip)


@needs_pdftoppm
def test_page_is_a4_and_says_how_to_print(strip: tuple[Layout, Reference], tmp_path: Path) -> None:
    path = tmp_path / "page.pdf"
    path.write_bytes(draw_page(*strip, SERIALS))
    info = subprocess.run(["pdfinfo", str(path)], check=True, capture_output=True, text=True)
    assert "A4" in info.stdout
    words = subprocess.run(
        ["pdftotext", str(path), "-"], check=True, capture_output=True, text=True
    ).stdout
    for phrase in (
        "100 %",
        "actual size",
        "without optical brighteners",
        "dry for a day",
        "Rule measured",
        "spare",
        "sRGB",
        strip[0].name,
        *SERIALS,
    ):
        assert phrase in words


def test_refuses_a_target_too_large_for_the_page(strip: tuple[Layout, Reference]) -> None:
    layout, reference = strip
    wide = dataclasses.replace(layout, width=200.0)
    with pytest.raises(LayoutError, match="do not fit twice on a page"):
        draw_page(wide, reference)
