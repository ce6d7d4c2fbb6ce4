"""What the page draws of one scan: it in small with its strips, and curves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from colormatch.job.fit import FittedTile
from colormatch.job.tiles import Opened, measured_ppi
from colormatch.model import FloatArray, StripReading
from colormatch.views import Picture, Point, StripView, TileView

THUMBNAIL = 360
"""Width of a tile in small, pixels: a phone shows it whole."""
CURVE_SAMPLES = 65
LAMP_SAMPLES = 21


def tile_view(opened: Opened, strips: Sequence[StripReading] = ()) -> TileView:
    """Draw one scan in small, with the strips found in it."""
    thumbnail = in_small(opened.small, THUMBNAIL / opened.small.shape[1])
    scale = thumbnail.shape[1] / opened.scan.width
    ppi = measured_ppi(strips[0]) if strips else opened.scan.ppi or (0.0, 0.0)
    return TileView(
        thumbnail=thumbnail,
        strips=tuple(strip_view(strip, scale) for strip in strips),
        per_mm=(ppi[0] / 25.4 * scale, ppi[1] / 25.4 * scale),
    )


def in_small(encoded: FloatArray, scale: float) -> Picture:
    """Reduce a picture of encoded values, 0 to 1; it is never enlarged."""
    import cv2

    rows, columns = (max(1, round(n * min(scale, 1.0))) for n in encoded.shape[:2])
    source = np.ascontiguousarray(encoded, dtype=np.float32)
    small = np.asarray(cv2.resize(source, (columns, rows), interpolation=cv2.INTER_AREA))
    return np.round(np.clip(small, 0.0, 1.0) * 255).astype(np.uint8)


def strip_view(strip: StripReading, scale: float) -> StripView:
    """Lay a strip's design onto the thumbnail; ``scale`` is its pixels per scan pixel."""
    layout, linear = strip.layout, strip.px_from_mm[:, :2]

    def point(x: float, y: float) -> Point:
        px = (linear @ (x, y) + strip.px_from_mm[:, 2] + 0.5) * scale
        return float(px[0]), float(px[1])

    def box(x: float, y: float, width: float, height: float) -> tuple[Point, ...]:
        ends = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
        return tuple(point(*end) for end in ends)

    size = float(np.sqrt(abs(np.linalg.det(linear)))) * scale
    return StripView(
        outline=box(0.0, 0.0, layout.width, layout.height),
        marks=tuple(
            (point(m.x, m.y), m.diameter / 2 * size, m.id in strip.marks_px) for m in layout.marks
        ),
        patches=tuple(box(p.x, p.y, p.width, p.height) for p in layout.patches),
        usable=tuple(bool(usable) for usable in strip.usable),
        size=(layout.width, layout.height),
        boxes=tuple((p.id, p.x, p.y, p.width, p.height) for p in layout.patches),
        fields=tuple((f.kind, f.x, f.y, f.width, f.height) for f in layout.fields),
    )


def with_curves(view: TileView, fitted: FittedTile) -> TileView:
    """Add what the fit found: the tone curve, and the light along the strip."""
    solution = fitted.choice.solution
    encoded = np.linspace(0.0, 1.0, CURVE_SAMPLES)
    light = solution.curve.linear(encoded[:, None].repeat(3, axis=1))
    along = np.linspace(-1.0, 1.0, LAMP_SAMPLES)
    lamp = solution.lamp(fitted.index, along) * 100
    return replace(
        view,
        curve=np.column_stack([encoded, light]),
        lamp=np.column_stack([along, lamp]),
    )
