"""One list of shapes, two kinds of file."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from colormatch.errors import OutputError
from colormatch.reporting.palette import LIGHT
from colormatch.reporting.shapes import PNG_SCALE, Box, Path, Sheet, Words, latin, picture_bytes
from tests.reporting.reading import drawn

SHEET = Sheet(
    size=(120, 80),
    title="a <sheet> & more",
    shapes=(
        Box(at=(10, 10), size=(40, 20), fill="#ff0000"),
        Box(at=(60, 10), size=(40, 20), line="#0000ff", dashed=True),
        Path(places=((10, 60), (110, 60)), line="#00aa00", width=2),
        Path(places=((60, 40), (70, 50), (50, 50)), line="#000000", filled=True),
        Words(at=(10, 76), text="level <b>", size=10),
        Words(at=(116, 70), text="upwards", size=10, upwards=True),
    ),
)


def pixels() -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(picture_bytes(SHEET, ".png"))).convert("RGB"))


def test_svg_stands_alone_and_escapes_its_texts() -> None:
    text = picture_bytes(SHEET, ".SVG").decode()
    root = drawn(text)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert root[0].text == "a <sheet> & more"
    assert [one.tag.split("}")[1] for one in root] == [
        "title", "rect", "rect", "rect", "polyline", "polygon", "text", "text",
    ]  # fmt: skip
    assert "level &lt;b&gt;" in text


def test_png_shows_the_same_shapes() -> None:
    picture = pixels()
    assert picture.shape == (80 * PNG_SCALE, 120 * PNG_SCALE, 3)
    assert tuple(picture[20 * PNG_SCALE, 30 * PNG_SCALE]) == (255, 0, 0)
    assert tuple(picture[60 * PNG_SCALE, 60 * PNG_SCALE]) == (0, 170, 0)
    assert tuple(picture[47 * PNG_SCALE, 60 * PNG_SCALE]) == (0, 0, 0)
    ground = tuple(int(LIGHT["card"][k : k + 2], 16) for k in (1, 3, 5))
    assert tuple(picture[0, 0]) == ground
    # Dashes leave gaps: neither none nor all of the line is blue.
    top = picture[10 * PNG_SCALE, 60 * PNG_SCALE : 100 * PNG_SCALE]
    blue = (top == (0, 0, 255)).all(axis=1).mean()
    assert 0.3 < blue < 0.9


def test_upwards_words_are_tall_and_narrow_in_the_png() -> None:
    dark = pixels()[30 * PNG_SCALE : 75 * PNG_SCALE, 105 * PNG_SCALE :].min(axis=2) < 120
    rows, columns = np.nonzero(dark)
    assert np.ptp(rows) > 2 * np.ptp(columns)


def test_signs_the_png_cannot_draw_are_spelt_out() -> None:
    assert latin("ΔE2000 – 30 × 40, größer") == "delta E2000 - 30 × 40, größer"
    assert latin("печать") == "??????"


def test_another_ending_is_refused() -> None:
    with pytest.raises(OutputError, match=r"\.svg or \.png"):
        picture_bytes(SHEET, ".gif")
