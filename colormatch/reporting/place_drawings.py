"""Where findings lie, drawn on the scan in small: outlines with the numbers of a legend."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from colormatch.reporting.svg import tag
from colormatch.verdict import Box, Finding

LEAST = 7.0
"""Smallest side of an outline, pixels of the thumbnail: a speck must be seen."""
ROOM = 2.0
"""Between what is outlined and its outline."""
LABELLED = 4
"""Places of one finding that bear its number; the others look the same."""
LABEL = (12.0, 13.0)
"""Width, for each figure, and height of a number's ground."""


def numbers(findings: Sequence[Finding]) -> list[int | None]:
    """Give each finding that has places a number, in order from 1; None to the others."""
    given: list[int | None] = []
    for one in findings:
        given.append(1 + sum(n is not None for n in given) if one.places else None)
    return given


def outlined(
    findings: Sequence[Finding], per_mm: tuple[float, float], size: tuple[int, int]
) -> list[Markup]:
    """Draw every finding's places.

    Parameters
    ----------
    findings : sequence of Finding
    per_mm : tuple of float
        Pixels of the thumbnail per millimetre, across and down.
    size : tuple of int
        Width and height of the thumbnail, pixels.
    """
    parts: list[Markup] = []
    for one, number in zip(findings, numbers(findings), strict=True):
        boxes = [_drawn(box, per_mm, size) for box in one.places]
        for box in boxes:
            parts += [_outline(box, kind) for kind in ("halo", "place")]
        if number is not None:
            parts += [_label(box, number, size) for box in boxes[:LABELLED]]
    return parts


def _drawn(box: Box, per_mm: tuple[float, float], size: tuple[int, int]) -> Box:
    """Give a box in pixels, not too small, inside the picture."""
    x, y, width, height = (v * per_mm[k % 2] for k, v in enumerate(box))
    wide = min(max(width + 2 * ROOM, LEAST), size[0] - 2.0)
    tall = min(max(height + 2 * ROOM, LEAST), size[1] - 2.0)
    left = min(max(x + width / 2 - wide / 2, 1.0), size[0] - 1.0 - wide)
    top = min(max(y + height / 2 - tall / 2, 1.0), size[1] - 1.0 - tall)
    return left, top, wide, tall


def _outline(box: Box, kind: str) -> Markup:
    x, y, width, height = box
    return tag("rect", x=x, y=y, width=width, height=height, rx=2, class_=kind)


def _label(box: Box, number: int, size: tuple[int, int]) -> Markup:
    """Write a finding's number over the top left corner of its outline."""
    wide, tall = LABEL[0] if number < 10 else 1.6 * LABEL[0], LABEL[1]
    x = min(max(box[0] - 3, 0.0), size[0] - wide)
    y = min(max(box[1] - tall + 2, 0.0), size[1] - tall)
    return tag(
        "g",
        tag("rect", x=x, y=y, width=wide, height=tall, rx=3, class_="number-ground"),
        tag("text", str(number), x=x + wide / 2, y=y + tall - 3, text_anchor="middle",
            class_="number"),
    )  # fmt: skip
