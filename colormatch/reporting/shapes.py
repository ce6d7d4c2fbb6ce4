"""A drawing as a list of shapes, written as SVG or as PNG from the same list."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from colormatch.errors import OutputError
from colormatch.reporting.palette import LIGHT
from colormatch.reporting.svg import Span, points, tag

if TYPE_CHECKING:
    from PIL import ImageDraw, ImageFont
    from PIL.Image import Image

PNG_SCALE = 2
"""Pixels of the PNG per unit of the drawing."""
ENDINGS = (".svg", ".png")


@dataclass(frozen=True, kw_only=True)
class Box:
    """A rectangle; ``fill`` and ``line`` are colours, empty for none."""

    at: Span
    size: Span
    fill: str = ""
    line: str = ""
    dashed: bool = False


@dataclass(frozen=True, kw_only=True)
class Path:
    """A line through places, dashed or not; closed ones are filled instead."""

    places: tuple[Span, ...]
    line: str
    width: float = 1.0
    dashed: bool = False
    filled: bool = False


@dataclass(frozen=True, kw_only=True)
class Words:
    """One line of text; ``at`` is its baseline, at ``anchor`` (start, middle, end).

    ``upwards`` text reads from bottom to top.
    """

    at: Span
    text: str
    size: float = 12.0
    colour: str = LIGHT["ink"]
    anchor: str = "start"
    upwards: bool = False


Shape = Box | Path | Words


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A drawing of ``size`` units, with a title for those who cannot see it."""

    size: Span
    title: str
    shapes: tuple[Shape, ...]


def picture_bytes(sheet: Sheet, ending: str) -> bytes:
    """Give a drawing as a file.

    Parameters
    ----------
    sheet : Sheet
    ending : str
        ``".svg"`` or ``".png"``, in either case.

    Raises
    ------
    OutputError
        If the ending is another.
    """
    refuse_ending(ending)
    return png_bytes(sheet) if ending.lower() == ".png" else svg_text(sheet).encode()


def refuse_ending(ending: str) -> None:
    """Refuse an ending that no drawing has, before any work is done."""
    if ending.lower() not in ENDINGS:
        raise OutputError(
            f"a drawing cannot be written as {ending or 'a file without an ending'!r}: end its "
            "name with .svg or .png"
        )


def svg_text(sheet: Sheet) -> str:
    """Give a drawing as an SVG file of its own."""
    width, height = sheet.size
    ground = Box(at=(0, 0), size=sheet.size, fill=LIGHT["card"])
    inside = [tag("title", sheet.title), *(_svg(shape) for shape in (ground, *sheet.shapes))]
    return str(
        tag(
            "svg", *inside, xmlns="http://www.w3.org/2000/svg", width=width, height=height,
            viewBox=f"0 0 {width:g} {height:g}", role="img", font_family="system-ui, sans-serif",
        )
    )  # fmt: skip


def _svg(shape: Shape) -> str:
    match shape:
        case Box():
            (x, y), (width, height) = shape.at, shape.size
            return tag(
                "rect", x=x, y=y, width=width, height=height, fill=shape.fill or "none",
                stroke=shape.line or "none", **_dash(shape.dashed),
            )  # fmt: skip
        case Path():
            name = "polygon" if shape.filled else "polyline"
            fill = shape.line if shape.filled else "none"
            return tag(
                name, points=points(shape.places), fill=fill, stroke=shape.line,
                stroke_width=shape.width, **_dash(shape.dashed),
            )  # fmt: skip
        case Words():
            x, y = shape.at
            turn = {"transform": f"rotate(-90 {x:g} {y:g})"} if shape.upwards else {}
            return tag(
                "text", shape.text, x=x, y=y, font_size=shape.size, fill=shape.colour,
                text_anchor=shape.anchor, **turn,
            )  # fmt: skip


def _dash(dashed: bool) -> dict[str, str]:
    return {"stroke_dasharray": "4 3"} if dashed else {}


def png_bytes(sheet: Sheet) -> bytes:
    """Give a drawing as a PNG, 8 bit RGB."""
    from PIL import Image, ImageDraw

    size = tuple(round(side * PNG_SCALE) for side in sheet.size)
    picture = Image.new("RGB", (size[0], size[1]), LIGHT["card"])
    pen = ImageDraw.Draw(picture)
    for shape in sheet.shapes:
        _paint(picture, pen, shape)
    data = io.BytesIO()
    picture.save(data, "PNG", dpi=(96 * PNG_SCALE, 96 * PNG_SCALE))
    return data.getvalue()


def _paint(picture: Image, pen: ImageDraw.ImageDraw, shape: Shape) -> None:
    match shape:
        case Box():
            (x, y), (width, height) = shape.at, shape.size
            corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
            if shape.fill:
                pen.polygon(_scaled(corners), fill=shape.fill)
            if shape.line:
                _stroke(pen, (*corners, corners[0]), shape.line, 1.0, shape.dashed)
        case Path():
            if shape.filled:
                pen.polygon(_scaled(shape.places), fill=shape.line)
            _stroke(pen, shape.places, shape.line, shape.width, shape.dashed)
        case Words():
            _write(picture, pen, shape)


def _scaled(places: Sequence[Span]) -> list[Span]:
    return [(x * PNG_SCALE, y * PNG_SCALE) for x, y in places]


def _stroke(
    pen: ImageDraw.ImageDraw, places: Sequence[Span], colour: str, width: float, dashed: bool
) -> None:
    thick = max(1, round(width * PNG_SCALE))
    if not dashed:
        pen.line(_scaled(places), fill=colour, width=thick, joint="curve")
        return
    for start, end in pairwise(places):
        length = max(abs(end[0] - start[0]) + abs(end[1] - start[1]), 1e-9)
        for k in range(int(length // 7) + 1):
            ends = (7 * k / length, min((7 * k + 4) / length, 1.0))
            pen.line(_scaled([_between(start, end, t) for t in ends]), fill=colour, width=thick)


def _between(start: Span, end: Span, share: float) -> Span:
    return (
        start[0] + share * (end[0] - start[0]),
        start[1] + share * (end[1] - start[1]),
    )


def _font(size: float) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    from PIL import ImageFont

    # The library brings a font of its own, so every machine draws alike.
    return ImageFont.load_default(size * PNG_SCALE)


def latin(text: str) -> str:
    """Spell what the PNG's font has no signs for."""
    plain = text.replace("Δ", "delta ").replace("–", "-")
    return plain.encode("latin-1", "replace").decode("latin-1")


def _write(picture: Image, pen: ImageDraw.ImageDraw, words: Words) -> None:
    from PIL import Image, ImageDraw

    font = _font(words.size)
    text = latin(words.text)
    anchor = {"start": "ls", "middle": "ms", "end": "rs"}[words.anchor]
    if not words.upwards:
        pen.text(_scaled([words.at])[0], text, fill=words.colour, font=font, anchor=anchor)
        return
    length = int(pen.textlength(text, font=font)) + 2
    tall = int(words.size * PNG_SCALE * 1.5)
    patch = Image.new("L", (length, tall), 0)
    ImageDraw.Draw(patch).text((0, tall * 0.75), text, fill=255, font=font, anchor="ls")
    turned = patch.rotate(90, expand=True)
    x, y = _scaled([words.at])[0]
    before = {"start": length, "middle": length / 2, "end": 0}[words.anchor]
    corner = round(x - tall * 0.75), round(y - before)
    picture.paste(Image.new("RGB", turned.size, words.colour), corner, turned)
