"""The scan with what was found drawn on it, and the strip enlarged."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from colormatch.reporting.pictures import data_uri, hex_from_lab
from colormatch.reporting.place_drawings import outlined
from colormatch.reporting.svg import Span, drawing, line, points, tag
from colormatch.verdict import Finding, PatchReport
from colormatch.views import StripView, TileView

GROUNDS = {"white": "#ffffff", "grey": "#777777", "black": "#1e1e1e"}
"""The strip's printed grounds, roughly: they are scenery here, not data."""
UNITS_PER_MM = 6.0


def thumbnail(view: TileView, name: str, findings: Sequence[Finding] = ()) -> Markup:
    """Draw the scan in small with its strips on it, and the places of what was found."""
    height, width = view.thumbnail.shape[:2]
    picture = tag("image", href=data_uri(view.thumbnail), width=width, height=height)
    drawn = [part for strip in view.strips for part in found_strip(strip)]
    told = "the strip found in it drawn on it" if view.strips else "no strip was found in it"
    if min(view.per_mm) > 0:
        drawn += outlined(findings, view.per_mm, (width, height))
    return drawing(
        width, height, f"{name} in small, {told}", picture, *drawn, class_="plot picture"
    )


def found_strip(strip: StripView) -> list[Markup]:
    """Draw one strip's outline, marks and patches in pixels of the thumbnail."""
    parts = [
        tag("polygon", points=points(strip.outline), class_=kind) for kind in ("halo", "found")
    ]
    for (x, y), radius, seen in strip.marks:
        kind = "found" if seen else "found unseen"
        parts += [tag("circle", cx=x, cy=y, r=radius, class_=c) for c in ("halo", kind)]
    for corners, usable in zip(strip.patches, strip.usable, strict=True):
        parts.append(tag("polygon", points=points(corners), class_="patch"))
        if not usable:
            parts += crossed(corners)
    return parts


def crossed(corners: Sequence[Span]) -> list[Markup]:
    """Strike out one patch."""
    a, b, c, d = corners
    return [line(p, q, kind) for kind in ("halo", "struck") for p, q in ((a, c), (b, d))]


def strip_enlarged(strip: StripView, patches: Sequence[PatchReport]) -> Markup:
    """Draw the strip with each patch half as wanted (left), half as scanned (right)."""
    width, height = (side * UNITS_PER_MM for side in strip.size)
    ground = tag("rect", width=width, height=height, fill=GROUNDS["grey"])
    parts = [ground, *map(field, strip.fields)]
    for box, patch in zip(strip.boxes, patches, strict=True):
        parts += halves(box, patch)
    return drawing(
        width,
        height,
        "the strip enlarged: wanted colour left, scanned colour right in each patch",
        *parts,
        class_="plot wide strip",
    )


def field(ground: tuple[str, float, float, float, float]) -> Markup:
    """Draw a printed ground."""
    kind, x, y, width, height = (ground[0], *(side * UNITS_PER_MM for side in ground[1:]))
    return tag("rect", x=x, y=y, width=width, height=height, fill=GROUNDS.get(kind, "#777777"))


def halves(box: tuple[str, float, float, float, float], patch: PatchReport) -> list[Markup]:
    """Draw one patch in two halves, or struck out."""
    x, y, width, height = (side * UNITS_PER_MM for side in box[1:])
    wanted = hex_from_lab(patch.wanted)
    if patch.scanned is None:
        corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
        title = tag("title", f"{patch.id}: {patch.note}")
        whole = tag("rect", title, x=x, y=y, width=width, height=height, fill=wanted)
        return [whole, *crossed(corners)]
    title = tag("title", f"{patch.id}: ΔE2000 {patch.fitted or 0:.2f}")
    left = tag("rect", x=x, y=y, width=width / 2, height=height, fill=wanted)
    right = tag(
        "rect", title, x=x + width / 2, y=y, width=width / 2, height=height,
        fill=hex_from_lab(patch.scanned),
    )  # fmt: skip
    return [left, right]
