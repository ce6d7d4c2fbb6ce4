"""Pieces across the seams at full size, with marks where the seam meets the rim."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from colormatch.reporting.pictures import data_uri
from colormatch.reporting.svg import drawing, tag
from colormatch.views import CropView, MergeView, Picture, Point

RIM = 8.0
"""Room round a piece for the marks, drawing units: one is one pixel."""
QUALITY = 90
"""Of the JPEG: seams are judged by it."""


def piece(picture: Picture, ends: Sequence[Point], title: str) -> Markup:
    """Draw a piece pixel by pixel."""
    height, width = picture.shape[:2]
    parts = [
        tag("image", href=data_uri(picture, QUALITY), x=RIM, y=RIM, width=width, height=height),
        *(end_mark(point, height) for point in ends),
    ]
    size = (width + 2 * RIM, height + 2 * RIM)
    return drawing(*size, title, *parts, class_="plot piece")


def end_mark(point: Point, height: float) -> Markup:
    """Draw a wedge outside a piece that points at where a line meets its rim."""
    x, y = point[0] + RIM, point[1] + RIM
    long, half = RIM - 1, 3.5
    if point[1] <= 0 or point[1] >= height:
        out = -long if point[1] <= 0 else long
        corners = ((x, y), (x - half, y + out), (x + half, y + out))
    else:
        out = -long if point[0] <= 0 else long
        corners = ((x, y), (x + out, y - half), (x + out, y + half))
    return tag("polygon", points=" ".join(f"{a:g},{b:g}" for a, b in corners), class_="wedge")


def three_of(crop: CropView) -> tuple[tuple[Markup, str], ...]:
    """Give the three states of a piece, each with its line."""
    where = f"at {crop.middle[0]:.0f} × {crop.middle[1]:.0f} mm"
    return (
        (piece(crop.scanned, crop.cuts, f"as scanned, {where}"), "as scanned, straight cut"),
        (
            piece(crop.matched, crop.cuts, f"matched, {where}"),
            "matched, not yet levelled, straight cut",
        ),
        (piece(crop.joined, crop.ends, f"joined, {where}"), "joined, as written"),
    )


def boxes_on_map(view: MergeView) -> list[Markup]:
    """Draw where the pieces lie on the map of the seams, numbered."""
    scale = view.seams.shape[1] / view.size[0]
    parts = []
    for k, crop in enumerate(view.crops, 1):
        x, y, width, height = (v * scale for v in crop.box)
        size = {"x": x, "y": y, "width": width, "height": height}
        big = view.seams.shape[1] / 28
        # At the corner: in the middle it would hide the seam.
        at = max(x, 0.7 * big), max(y, 0.7 * big)
        parts += [
            tag("rect", **size, class_="box under"),
            tag("rect", **size, class_="box"),
            tag("circle", cx=at[0], cy=at[1], r=big * 0.62, class_="number"),
            text_at(at[0], at[1] + big * 0.3, str(k), big * 0.85),
        ]
    return parts


def text_at(x: float, y: float, words: str, size: float) -> Markup:
    """Give a number in a size of the map's own."""
    style = f"font-size:{size:.0f}px"
    return tag("text", words, x=x, y=y, text_anchor="middle", class_="t numbered", style=style)
