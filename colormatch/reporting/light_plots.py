"""Plots of light: the tone curve, the fall-off along the strip, gains of the tiles."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from colormatch.model import FloatArray
from colormatch.reporting.svg import Axes, drawing, line, tag, text

CHANNELS = ("red", "green", "blue")
COMPARED_POWER = 2.2
"""Exponent of the plain curve drawn for comparison."""
ROW = 26.0
"""Height of a tile's row, drawing units."""


def tone_curve(curve: FloatArray) -> Markup:
    """Draw linear light over the value in the file; ``curve`` is as in `TileView`."""
    top = max(1.0, float(curve[:, 1:].max()))
    axes = Axes(x=(0.0, 100.0), y=(0.0, top * 100))
    plain = [(v * 100, v**COMPARED_POWER * 100) for v in curve[:, 0]]
    parts = [*axes.frame("value in the file, %", "light, %"), axes.path(plain, "zero")]
    same = float(np.ptp(curve[:, 1:], axis=1).max()) < 0.002
    for c in (1,) if same else (0, 1, 2):
        places = [(row[0] * 100, row[c + 1] * 100) for row in curve]
        parts.append(axes.path(places, "curve ink" if same else f"curve {CHANNELS[c]}"))
        if not same:
            x, y = axes.at(*places[len(places) * (5 + c) // 9])
            parts.append(text(x - 5, y - 3, CHANNELS[c], "end"))
    return drawing(340, 250, "tone curve", *parts)


def fall_off(lamp: FloatArray) -> Markup:
    """Draw the light along the strip; ``lamp`` is as in `TileView`."""
    off = max(2.0, float(np.abs(lamp[:, 1] - 100).max())) * 1.2
    axes = Axes(x=(-1.0, 1.0), y=(100 - off, 100 + off))
    parts = axes.frame("along the strip", "light, % of the middle's", x_numbers=False)
    for place, words, anchor in ((-1, "left end", "start"), (0, "middle", "middle"),
                                 (1, "right end", "end")):  # fmt: skip
        x, y = axes.at(place, 100 - off)
        parts.append(text(x, y + 15, words, anchor))
    parts.append(axes.across(100.0, "zero"))
    parts.append(axes.path([(float(x), float(y)) for x, y in lamp], "curve one"))
    return drawing(340, 250, "light along the strip", *parts)


def gains_plot(names: Sequence[str], gains: Sequence[tuple[float, float, float]]) -> Markup:
    """Draw each tile's light per channel against the first tile, percent."""
    percent = [[(g - 1) * 100 for g in three] for three in gains]
    reach = max([1.0, *(abs(v) for three in percent for v in three)]) * 1.2
    height = 54 + ROW * len(names)
    axes = Axes(x=(-reach, reach), y=(len(names), 0.0), width=340, height=height, left=96, right=14)
    parts = axes.frame("light against the first tile, %", "", y_numbers=False)
    parts.append(line(axes.at(0, 0), axes.at(0, len(names)), "zero"))
    parts += [
        text(90, axes.at(0, k + 0.5)[1] + 4, short(name), "end") for k, name in enumerate(names)
    ]
    for k, three in enumerate(percent):
        parts += [sign(*axes.at(v, k + 0.5), c) for c, v in enumerate(three)]
    return drawing(340, height, "light of the tiles per channel", *parts)


def short(name: str, letters: int = 14) -> str:
    """Cut a long name in its middle."""
    return name if len(name) <= letters else f"{name[: letters // 2]}…{name[-letters // 2 + 1 :]}"


def sign(x: float, y: float, channel: int) -> Markup:
    """Draw a channel's sign: red round, green square, blue a triangle."""
    kind = f"sign {CHANNELS[channel]}"
    if channel == 0:
        return tag("circle", cx=x, cy=y, r=5, class_=kind)
    if channel == 1:
        return tag("rect", x=x - 4.5, y=y - 4.5, width=9, height=9, class_=kind)
    return tag("polygon", points=f"{x:.1f},{y - 6:.1f} {x + 6:.1f},{y + 5:.1f} "
               f"{x - 6:.1f},{y + 5:.1f}", class_=kind)  # fmt: skip
