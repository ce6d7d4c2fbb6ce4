"""Plots of the patches: how far off each is, and in which direction."""

from __future__ import annotations

import math
from collections.abc import Sequence

from markupsafe import Markup

from colormatch.reporting.pictures import hex_from_lab
from colormatch.reporting.svg import Axes, drawing, line, tag, text
from colormatch.standards.tolerances import Outcome
from colormatch.verdict import PatchReport

BAR = 11.0
"""Width of a patch's place in the bar plot, drawing units."""
AB_TIMES = (10.0, 5.0, 2.0)
"""Factors by which error vectors in the a*b* plot may be drawn longer, longest first."""
AB_LONGEST = 40.0
"""Longest vector drawn, units of a* and b*: longer ones would leave the plot."""
BESIDE = 78.0
"""Room beside the bars for the names of the limits, drawing units."""
NAMED = 3
"""Worst patches that are named in the bar plot."""
STATISTICS = {"mean_de00": "mean", "p90_de00": "P90", "p95_de00": "P95", "max_de00": "largest"}
"""Metrics in the formula of the bars; limits for another one are not drawn among them."""


def limits(outcome: Outcome | None) -> list[tuple[str, float]]:
    """Give the limits of the level shown that the bars can be held against."""
    if outcome is None:
        return []
    return [
        (f"{STATISTICS[check.metric.key]} {check.tolerance.limit}", check.tolerance.high)
        for check in outcome.shown
        if check.metric.key in STATISTICS and check.tolerance.high is not None
    ]


def patch_bars(patches: Sequence[PatchReport], outcome: Outcome | None) -> Markup:
    """Draw ΔE2000 per patch, in the fit and left out of it, with the tolerance lines."""
    lines = limits(outcome)
    top = max([1.0, *(p.left_out or 0 for p in patches), *(v for _, v in lines)]) * 1.15
    width = 48.0 + BAR * len(patches) + BESIDE
    axes = Axes(x=(0.0, float(len(patches))), y=(0.0, top), width=width, height=230, right=BESIDE)
    parts = axes.frame("", "ΔE2000", x_numbers=False)
    for number, patch in enumerate(patches):
        parts += bars(axes, number, patch)
    for words, value in lines:
        x, y = axes.at(len(patches), value)
        parts += [axes.across(value, "limit"), text(x + 5, y + 4, words, "start", "t strong")]
    worst = sorted(range(len(patches)), key=lambda i: -(patches[i].left_out or 0))[:NAMED]
    for i in worst:
        x, y = axes.at(i + 0.5, patches[i].left_out or 0)
        parts.append(text(x, y - 3, patches[i].id, "middle"))
    return drawing(width, 230, "colour difference of every patch", *parts, class_="plot wide")


def bars(axes: Axes, number: int, patch: PatchReport) -> list[Markup]:
    """Draw one patch's two bars, its colour and its name."""
    x, base = axes.at(number + 0.5, 0.0)
    parts = [
        tag("rect", x=x - 4, y=base + 3, width=8, height=6, fill=hex_from_lab(patch.wanted)),
        tag(
            "text", patch.id, x=x + 3, y=base + 34, class_="t tiny",
            transform=f"rotate(-90 {x + 3:.1f} {base + 34:.1f})",
        ),
    ]  # fmt: skip
    for value, half, kind in ((patch.left_out, 4.0, "bar out"), (patch.fitted, 1.7, "bar in")):
        if value is not None:
            y = axes.at(0.0, value)[1]
            parts.append(tag("rect", x=x - half, y=y, width=2 * half, height=base - y, class_=kind))
    return parts


def seen_patches(patches: Sequence[PatchReport]) -> list[PatchReport]:
    """Keep the patches that could be read."""
    return [patch for patch in patches if patch.scanned is not None]


def lengthening(patches: Sequence[PatchReport]) -> float:
    """Choose how many times as long error vectors in a*, b* are drawn."""
    longest = max(
        math.dist(p.wanted[1:], (p.scanned or p.wanted)[1:]) for p in seen_patches(patches)
    )
    return next((times for times in AB_TIMES if times * longest <= AB_LONGEST), 1.0)


def ab_plot(patches: Sequence[PatchReport], times: float) -> Markup:
    """Draw where each patch is wanted in a*, b*, and a vector to where it lies.

    ``times`` is how many times as long vectors are drawn.
    """
    reach = max([40.0, *(abs(v) for p in patches for v in p.wanted[1:])]) * 1.15
    axes = Axes(x=(-reach, reach), y=(-reach, reach), width=340, height=340)
    parts = axes.frame("a*  (green to red)", "b*  (blue to yellow)")
    for patch in seen_patches(patches):
        _, a, b = patch.wanted
        _, seen_a, seen_b = patch.scanned or patch.wanted
        end = axes.at(a + times * (seen_a - a), b + times * (seen_b - b))
        parts += vector(axes.at(a, b), end, hex_from_lab(patch.wanted), patch.id)
    return drawing(340, 340, "errors of colour in the a*, b* plane", *parts)


def lightness_plot(patches: Sequence[PatchReport]) -> Markup:
    """Draw the error of lightness over the lightness wanted."""
    seen = seen_patches(patches)
    errors = [(p.scanned or p.wanted)[0] - p.wanted[0] for p in seen]
    reach = max([2.0, *map(abs, errors)]) * 1.15
    axes = Axes(x=(0.0, 100.0), y=(-reach, reach), width=340, height=340)
    parts = [*axes.frame("L* wanted  (black to white)", "L* scanned less wanted")]
    parts.append(axes.across(0.0, "zero"))
    for patch, error in zip(seen, errors, strict=True):
        lightness = patch.wanted[0]
        colour = hex_from_lab(patch.wanted)
        parts += vector(axes.at(lightness, 0.0), axes.at(lightness, error), colour, patch.id)
    return drawing(340, 340, "errors of lightness", *parts)


def vector(
    start: tuple[float, float], end: tuple[float, float], colour: str, name: str
) -> list[Markup]:
    """Draw an error from its dot, in the patch's own colour, to its end."""
    title = tag("title", name)
    dot = tag("circle", title, cx=start[0], cy=start[1], r=4, fill=colour, class_="dot")
    return [line(start, end, "error"), dot]
