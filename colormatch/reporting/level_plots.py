"""What levelling did to each tile, as maps."""

from __future__ import annotations

import numpy as np
from markupsafe import Markup

from colormatch.reporting.scales import CHANGE, classes_uri
from colormatch.reporting.svg import Span, drawing, signed, tag, text
from colormatch.views import FieldView

WIDTH = 200.0
"""Of one tile, drawing units."""
ROOM = 44.0
"""Drawing units from the rim within which a number is written towards the middle."""


def field_map(view: FieldView) -> Markup:
    """Draw the change of light all over one tile, its extremes marked."""
    rows, columns = view.percent.shape
    scale = WIDTH / columns
    height = rows * scale
    address = classes_uri(CHANGE.classes(view.percent), CHANGE.tints)
    parts = [
        tag("rect", width=WIDTH, height=height, class_="beside-rect"),
        tag("image", href=address, width=WIDTH, height=height, class_="cells"),
        *(mark for place in extremes(view) for mark in extreme(place, scale, height)),
    ]
    title = f"what levelling did to {view.tile}"
    return drawing(WIDTH, height, title, *parts, class_="plot picture")


def extremes(view: FieldView) -> list[tuple[int, int, float]]:
    """Give row, column and percent of the smallest and the largest change."""
    if np.isnan(view.percent).all():
        return []
    found = []
    for which in (np.nanargmin, np.nanargmax):
        row, column = np.unravel_index(int(which(view.percent)), view.percent.shape)
        found.append((int(row), int(column), float(view.percent[row, column])))
    return found


def extreme(place: tuple[int, int, float], scale: float, height: float) -> list[Markup]:
    """Mark a place with its change of light."""
    row, column, percent = place
    x, y = (column + 0.5) * scale, (row + 0.5) * scale
    words = f"{signed(percent)} %"
    beyond = x > WIDTH - ROOM
    at: Span = (x - 6 if beyond else x + 6, min(max(y + 4, 13.0), height - 5))
    anchor = "end" if beyond else "start"
    return [
        tag("circle", cx=x, cy=y, r=3.2, class_="spot"),
        text(*at, words, anchor, "t outlined"),
    ]


def range_words(view: FieldView) -> str:
    """Say between what the change of light lies."""
    if np.isnan(view.percent).all():
        return "no painting seen"
    low, high = float(np.nanmin(view.percent)), float(np.nanmax(view.percent))
    return f"{signed(low)} to {signed(high)}\u00a0%"
