"""How far each tile's own matrix is from the one all tiles share."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab
from colormatch.model import FloatArray
from colormatch.reporting.light_plots import ROW, short
from colormatch.reporting.patch_plots import vector
from colormatch.reporting.pictures import hex_from_lab
from colormatch.reporting.svg import Axes, drawing, line, tag, text
from colormatch.verdict import ColourReport, PatchReport

WIDTH = 340.0
GOOD = 0.3
"""ΔE2000 below which nobody sees the departure at a seam."""
SIDE = 210.0
"""Of one tile's plot, drawing units."""
TIMES = (100, 50, 20, 10, 5, 2)
"""Factors by which departures may be drawn longer, longest first."""
LONGEST = 30.0
"""Longest departure drawn, units of a* and b*."""


def departures(names: Sequence[str], colours: Sequence[ColourReport]) -> Markup:
    """Draw each tile's departure as a dot, and what noise explains of it as a bar."""
    top = max([2 * GOOD, *(c.departure for c in colours)]) * 1.15
    height = 54 + ROW * len(names)
    axes = Axes(x=(0.0, top), y=(len(names), 0.0), width=WIDTH, height=height, left=96)
    parts = axes.frame("ΔE2000, mean over the patches", "", y_numbers=False)
    parts.append(line(axes.at(GOOD, 0), axes.at(GOOD, len(names)), "limit"))
    for k, (name, colour) in enumerate(zip(names, colours, strict=True)):
        left, y = axes.at(0, k + 0.5)
        noise, _ = axes.at(min(colour.departure_noise, top), k + 0.5)
        dot, _ = axes.at(colour.departure, k + 0.5)
        parts += [
            text(90, y + 4, short(name), "end"),
            tag("rect", x=left, y=y - 4, width=noise - left, height=8, class_="bar out"),
            tag("circle", cx=dot, cy=y, r=5, class_="sign one"),
        ]
    return drawing(WIDTH, height, "own matrix of each tile against the shared one", *parts)


def shifts(colour: ColourReport, patches: Sequence[PatchReport]) -> FloatArray:
    """Give a*, b* of each patch under the shared matrix and under the tile's own, (N, 2, 2)."""
    xyz = xyz_from_lab(np.array([patch.wanted for patch in patches], dtype=float))
    rgb = np.linalg.solve(np.array(colour.matrix), xyz.T)
    own = np.maximum((np.array(colour.own_matrix) @ rgb).T, 0.0)
    return np.stack([lab_from_xyz(xyz)[:, 1:], lab_from_xyz(own)[:, 1:]], axis=1)


def lengthening(moved: Sequence[FloatArray]) -> int:
    """Choose how many times as long departures are drawn, the same for all tiles."""
    longest = max(float(np.linalg.norm(m[:, 1] - m[:, 0], axis=1).max()) for m in moved)
    return next((times for times in TIMES if times * longest <= LONGEST), 1)


def shift_plot(name: str, moved: FloatArray, patches: Sequence[PatchReport], times: int) -> Markup:
    """Draw where the tile's own matrix would move each patch in a*, b*."""
    ends = moved[:, 0] + times * (moved[:, 1] - moved[:, 0])
    reach = max(40.0, float(np.abs(moved[:, 0]).max()), float(np.abs(ends).max())) * 1.1
    axes = Axes(x=(-reach, reach), y=(-reach, reach), width=SIDE, height=SIDE, left=38, bottom=34)
    parts = axes.frame("a*", "b*")
    for shared, end, patch in zip(moved[:, 0], ends, patches, strict=True):
        start = axes.at(float(shared[0]), float(shared[1]))
        colour = hex_from_lab(patch.wanted)
        parts += vector(start, axes.at(float(end[0]), float(end[1])), colour, patch.id)
    return drawing(SIDE, SIDE, f"what the own matrix of {name} would change", *parts)
