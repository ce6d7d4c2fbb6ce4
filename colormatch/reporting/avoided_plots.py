"""Where a place was taken from another tile, and the places that are named."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from colormatch.merged import PlaceReport
from colormatch.reporting.overlap_plots import WIDTH, on_grey
from colormatch.reporting.scales import NOTHING, classes_uri
from colormatch.reporting.svg import Span, drawing, line, tag, text
from colormatch.views import MergeView

SHADED, SOFT = "#7d2f5e", "#2a5c99"
"""Tints: shaded places filled, soft ones in stripes, so that colour is not needed."""
SIDE = 680
"""Longer side of the map, pixels."""
STRIPE = 3
"""Width of a stripe, pixels of the map."""
ROUND = 8.0
"""Radius of a number's circle, drawing units."""
AWAY = (20.0, 36.0, 54.0, 74.0)
"""Distances from its place at which a number may stand, drawing units."""
KEY = 15.0
"""Side of a tint in the key, drawing units."""


def avoided_map(view: MergeView, places: Sequence[PlaceReport]) -> Markup:
    """Draw where tiles were avoided, and number the places."""
    classes = avoided_classes(view.shaded, view.soft)
    address = classes_uri(classes, (SHADED, SOFT))
    title = "places where a tile was avoided"
    return on_grey(view.grey, address, title, *numbers(places, view))


def avoided_classes(shaded: NDArray[np.bool_], soft: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Reduce the two masks, no place so small that it is lost, and stripe the second."""
    step = max(1, -(-max(shaded.shape) // SIDE))
    dark, blurred = (any_of(mask, step) for mask in (shaded, soft))
    rows, columns = np.indices(dark.shape)
    classes = np.full(dark.shape, NOTHING, np.uint8)
    classes[blurred & ((rows + columns) // STRIPE % 2 == 0)] = 1
    classes[dark] = 0
    return classes


def any_of(mask: NDArray[np.bool_], step: int) -> NDArray[np.bool_]:
    """Reduce a mask by blocks: true where any of a block is."""
    height, width = (-(-n // step) * step for n in mask.shape)
    padded = np.zeros((height, width), dtype=bool)
    padded[: mask.shape[0], : mask.shape[1]] = mask
    blocks = padded.reshape(height // step, step, width // step, step)
    return np.asarray(blocks.any(axis=(1, 3)))


def numbers(places: Sequence[PlaceReport], view: MergeView) -> list[Markup]:
    """Draw each place's number near it, with a line that leads to it."""
    scale = WIDTH / view.size[0] / view.pixel
    height = view.size[1] * WIDTH / view.size[0]
    taken: list[Span] = []
    parts: list[Markup] = []
    for k, place in enumerate(places, 1):
        at = place.place[0] * scale, place.place[1] * scale
        x, y = free_spot(at, taken, height)
        taken.append((x, y))
        parts += [
            line(at, (x, y), "lead-line under"),
            line(at, (x, y), "lead-line"),
            tag("circle", cx=x, cy=y, r=ROUND, class_="number"),
            text(x, y + 4, str(k), "middle", "t numbered"),
        ]
    return parts


def free_spot(at: Span, taken: Sequence[Span], height: float) -> Span:
    """Find a spot for a number, near its place and clear of the others."""
    spots = [
        (at[0] + away * math.cos(turn), at[1] + away * math.sin(turn))
        for away in AWAY
        for turn in (k * math.pi / 6 for k in range(12))
    ]
    inside = [
        (x, y) for x, y in spots if ROUND < x < WIDTH - ROUND and ROUND < y < height - ROUND
    ] or [(min(max(at[0], ROUND), WIDTH - ROUND), min(max(at[1], ROUND), height - ROUND))]
    clear = (s for s in inside if all(math.dist(s, other) > 2.2 * ROUND for other in taken))
    return next(clear, inside[0])


def avoided_key() -> Markup:
    """Draw what fill and stripes mean."""
    parts = [tag("rect", x=1, y=1, width=KEY, height=KEY, fill=SHADED, class_="swatch")]
    parts.append(text(KEY + 8, 13, "shadow, glare or dust in one tile"))
    parts.append(tag("rect", x=1, y=23, width=KEY, height=KEY, fill="#f4f4f2", class_="swatch"))
    for k in range(4):
        low = 1 + k * KEY / 4
        parts.append(tag("rect", x=low, y=23, width=KEY / 8, height=KEY, fill=SOFT))
    parts.append(text(KEY + 8, 35, "less sharp in one tile, or off the glass"))
    return drawing(280, 42, "key", *parts, class_="plot legend")
