"""The page of empty boxes, as an independent program renders it (poppler-utils)."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from colormatch.drawing.swatch_layout import MOST, swatch_layout
from colormatch.drawing.swatches import SHEET_TOP, draw_swatch_page
from colormatch.errors import LayoutError
from colormatch.model import Layout

needs_poppler = pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="pdftoppm is not installed (Debian: poppler-utils)"
)
PPI = 300
MM = PPI / 25.4


def rendered(layout: Layout, folder: Path) -> np.ndarray:
    (folder / "p.pdf").write_bytes(draw_swatch_page(layout))
    command = ["pdftoppm", "-r", str(PPI), "-gray", "-singlefile", "p.pdf", "p"]
    subprocess.run(command, check=True, cwd=folder, timeout=60)
    with Image.open(folder / "p.pgm") as picture:
        return np.asarray(picture)


@needs_poppler
@pytest.mark.parametrize("boxes", [6, 24, MOST])
def test_boxes_are_empty_and_where_the_layout_says(boxes: int, tmp_path: Path) -> None:
    layout = swatch_layout(boxes)
    page = rendered(layout, tmp_path)
    left = (210 - layout.width) / 2
    for patch in layout.patches:
        x, y = (left + patch.x) * MM, (SHEET_TOP + patch.y) * MM
        size = patch.width * MM
        inside = page[int(y + 6) : int(y + size - 6), int(x + 6) : int(x + size - 6)]
        assert inside.min() == 255
        edge = page[int(y + size / 2), int(x - 4) : int(x + 8)]
        assert edge.min() < 200
        assert abs(np.argmin(edge) - 4 - 0.15 * MM) < 2.5


@needs_poppler
@pytest.mark.parametrize("boxes", [6, 24, MOST])
def test_what_is_printed_stays_on_a4_and_on_letter(boxes: int, tmp_path: Path) -> None:
    # US Letter, 279.4 x 215.9 mm (ANSI/ASME Y14.1, size A), put in the middle of A4;
    # printers leave 5 mm and more blank (common practice, no source).
    page = rendered(swatch_layout(boxes), tmp_path)
    rows = np.flatnonzero(page.min(axis=1) < 250) / MM
    columns = np.flatnonzero(page.min(axis=0) < 250) / MM
    cut = (297 - 279.4) / 2
    assert rows[0] > cut + 5
    assert rows[-1] < 297 - cut - 5
    assert columns[0] > 5
    assert columns[-1] < 205


@needs_poppler
def test_the_page_says_how_to_use_it_and_what_is_poisonous(tmp_path: Path) -> None:
    (tmp_path / "p.pdf").write_bytes(draw_swatch_page(swatch_layout(24)))
    done = subprocess.run(
        ["pdftotext", "p.pdf", "-"], check=True, cwd=tmp_path, capture_output=True, text=True
    )
    text = " ".join(done.stdout.split())
    for words in ("100 %", "spectrophotometer", "swatches.csv", "poisonous", "never goes on"):
        assert words in text
    assert {f"P{k}" for k in range(1, 25)} <= set(text.split())


def test_the_file_is_the_same_every_time() -> None:
    assert draw_swatch_page(swatch_layout(12)) == draw_swatch_page(swatch_layout(12))


def test_a_sheet_too_large_for_its_page_is_refused() -> None:
    from dataclasses import replace

    with pytest.raises(LayoutError, match="fewer boxes"):
        draw_swatch_page(replace(swatch_layout(MOST), height=200.0))
