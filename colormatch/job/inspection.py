"""Everything one scan is asked by itself, while its survey is in memory."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.files.jpeg_quality import saved_quality
from colormatch.inspecting import (
    bands,
    clipping,
    codes,
    edges,
    flatness,
    grain,
    levels,
    lines,
    softness,
    specks,
)
from colormatch.inspecting.areas import Mask, Pitch
from colormatch.inspecting.records import Inspected, Noticed
from colormatch.job.keeping import Pixels
from colormatch.job.tiles import Tile, measured_ppi
from colormatch.model import FloatArray, Patch, StripReading, Survey, Window
from colormatch.placing.masks import painting_mask

POWERS = (0.9, 3.2)
"""Least and largest power a tone curve is taken for."""
LIGHT = 0.08
"""Luminance from which neutrals tell the power: darker ones are lit up by the others."""
HALVES = 2
"""The mask of the painting is found on a picture this many times smaller."""
EDGE_MM = 3.0
"""Of a patch's surroundings that are read to see its edge."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _Looked:
    """What every inspection needs."""

    survey: Survey
    painting: Mask
    strip: Mask
    pitch: Pitch
    power: float
    per_mm: tuple[float, float]


def inspect(tile: Tile) -> Inspected:
    """Measure everything one scan shows.

    Parameters
    ----------
    tile : Tile
        With its strips read, and its scan's survey still in memory.

    Raises
    ------
    ValueError
        If the survey has been let go of.
    """
    survey = tile.opened.survey
    if survey is None:
        raise ValueError("a scan can be inspected only while its survey is in memory")
    at = _looked(tile, survey)
    scan, strip = tile.scan, tile.strips[0]
    pixels, origin = _strip_window(tile)
    bits = 8 if codes.holds_eight_bits(pixels) else scan.bits
    values = (pixels / np.float32(np.iinfo(pixels.dtype).max)).astype(np.float32, copy=False)
    height = scan.height / at.per_mm[1]
    return Inspected(
        clipped=clipping.clipped_lights(survey, at.painting, at.pitch),
        blocked=clipping.blocked_shadows(survey, at.painting, at.pitch),
        halo=_halo(values, origin, strip, at.power),
        noise=_noise(tile, at.power),
        streaks=lines.streaks(survey.lines, at.power, at.per_mm[0], height),
        banding=bands.banding(survey.lanes, at.power, at.per_mm[1]),
        glare=specks.glare(survey, at.painting, _paper(strip), at.power, at.pitch),
        dust=specks.dust(survey, at.painting, at.strip, at.power, at.pitch),
        bits=bits,
        dark_step=codes.dark_step(bits, at.power),
        quality=saved_quality(scan.path) if scan.format == "jpeg" else None,
        blocks=None if scan.format == "jpeg" else codes.block_edges([grain.brightness(values)]),
        bend=_bend(values, origin, strip),
        lifted=softness.lifted_sides(survey, at.painting, _pixel_noise(strip), at.pitch),
        range_used=levels.range_used(
            survey, _paper(strip), float(tile.readings.xyz[:, 1].max()), at.power
        ),
    )


def _looked(tile: Tile, survey: Survey) -> _Looked:
    x, y = measured_ppi(tile.strips[0])
    per_mm = (x / 25.4, y / 25.4)
    strip = _strip_mask(tile, survey.small.shape[:2])
    return _Looked(
        survey=survey,
        painting=_painting(tile, survey.small),
        strip=strip,
        pitch=(survey.step / per_mm[0], survey.step / per_mm[1]),
        power=rough_power(tile),
        per_mm=per_mm,
    )


def rough_power(tile: Tile) -> float:
    """Give the power that turns the scan's values into light, by the strip's neutrals."""
    luminance = tile.readings.xyz[:, 1]
    used = tile.readings.neutral & (luminance > LIGHT) & (tile.readings.rgb.min(axis=1) > 0.02)
    if used.sum() < 3:
        return 2.2
    level = np.log(tile.readings.rgb[used].mean(axis=1))
    if np.ptp(level) < 0.1:
        return 2.2
    return float(np.clip(np.polyfit(level, np.log(luminance[used]), 1)[0], *POWERS))


def _corners(strip: StripReading, step: float) -> FloatArray:
    """Corners (4, 2) of a strip in blocks of ``step`` pixels."""
    size = np.array([strip.layout.width, strip.layout.height])
    px = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size @ strip.px_from_mm[:, :2].T
    return np.asarray((px + strip.px_from_mm[:, 2] - (step - 1) / 2) / step)


def _strip_mask(tile: Tile, shape: tuple[int, ...]) -> Mask:
    import cv2

    canvas = np.zeros(shape[:2], np.uint8)
    for strip in tile.strips:
        corners = np.round(_corners(strip, tile.opened.step)).astype(np.int32)
        cv2.fillPoly(canvas, [corners], 1)
    return canvas > 0


def _painting(tile: Tile, small: FloatArray) -> Mask:
    """Where the painting is; half as finely as the small picture, to be quick."""
    import cv2

    rows, columns = (max(1, n // HALVES) for n in small.shape[:2])
    half = cv2.resize(
        small[: rows * HALVES, : columns * HALVES], (columns, rows), interpolation=cv2.INTER_AREA
    )
    step = tile.opened.step * HALVES
    mm = step * 25.4 / float(np.mean(measured_ppi(tile.strips[0])))
    mask = painting_mask(
        np.asarray(half), mm, tuple(_corners(strip, step) for strip in tile.strips)
    )
    size = (small.shape[1], small.shape[0])
    return np.asarray(cv2.resize(mask.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0)


def _strip_window(tile: Tile) -> tuple[Pixels, tuple[float, float]]:
    """Give the pixels of the first strip, as far as they are in the scan, and their origin."""
    strip, scan = tile.strips[0], tile.scan
    corners = _corners(strip, 1)
    low = np.clip(np.floor(corners.min(axis=0)), 0, (scan.width - 1, scan.height - 1)).astype(int)
    high = np.clip(np.ceil(corners.max(axis=0)) + 1, low + 1, (scan.width, scan.height)).astype(int)
    window = Window(
        row=int(low[1]), column=int(low[0]), height=int(high[1] - low[1]),
        width=int(high[0] - low[0]),
    )  # fmt: skip
    return tile.opened.read(window), (float(low[0]), float(low[1]))


def _paper(strip: StripReading) -> FloatArray:
    """Give the strip's bare paper, encoded: its paper patches, or its lightest."""
    roles = np.array([patch.role for patch in strip.layout.patches])
    paper = strip.rgb[(roles == "paper") & strip.usable]
    return np.asarray(np.median(paper, axis=0) if len(paper) else strip.rgb.max(axis=0))


def _pixel_noise(strip: StripReading) -> tuple[FloatArray, FloatArray]:
    return softness.pixel_noise(strip.rgb[strip.usable], strip.spread[strip.usable])


def _noise(tile: Tile, power: float) -> Noticed | None:
    rows = [row for row, neutral in zip(tile.rows, tile.readings.neutral, strict=True) if neutral]
    rgb = np.array([tile.strips[s].rgb[p] for s, p in rows]).reshape(-1, 3)
    spread = np.array([tile.strips[s].spread[p] for s, p in rows]).reshape(-1, 3)
    return grain.noise(rgb, spread, power)


def _halo(
    values: FloatArray, origin: tuple[float, float], strip: StripReading, power: float
) -> Noticed | None:
    """Take the worst halo round the dark patches that lie on bare paper."""
    found = []
    for patch in strip.layout.patches:
        if patch.role == "flare":
            cut, corner = _round_patch(values, origin, strip, patch)
            if min(cut.shape[:2]) > 8:
                sides = edges.edge_spreads(grain.brightness(cut), corner, strip.px_from_mm, patch)
                found.append(edges.halo(sides, power))
    return max((h for h in found if h is not None), key=lambda h: h.measure, default=None)


def _round_patch(
    values: FloatArray, origin: tuple[float, float], strip: StripReading, patch: Patch
) -> tuple[FloatArray, tuple[float, float]]:
    """Cut a patch with its surroundings out of the strip's window."""
    size = np.array([patch.width, patch.height])
    middle = np.array([patch.x, patch.y]) + size / 2
    ends = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * (size / 2 + EDGE_MM) + middle
    px = ends @ strip.px_from_mm[:, :2].T + strip.px_from_mm[:, 2] - np.asarray(origin)
    left, top = np.clip(np.floor(px.min(axis=0)), 0, None).astype(int)
    right, bottom = np.clip(np.ceil(px.max(axis=0)) + 1, 0, None).astype(int)
    return values[top:bottom, left:right], (origin[0] + left, origin[1] + top)


def _bend(values: FloatArray, origin: tuple[float, float], strip: StripReading) -> Noticed | None:
    layout, pose = strip.layout, strip.px_from_mm
    rows = flatness.rows_of(layout)
    if not rows:
        return None
    above = flatness.ground_lines(layout, rows[0])
    found = []
    for row in rows:
        x, y = flatness.sample_lines(layout, row)
        ground = flatness.profile(values, origin, pose, x, above)
        seen = flatness.profile(values, origin, pose, x, y)
        covered = {layout.patches[i].x + layout.patches[i].width / 2 for i in row
                   if not strip.usable[i]}  # fmt: skip
        shifts = flatness.shifts(seen, ground, x, layout, row)
        found.append(shifts[[at not in covered for at in shifts[:, 0]]])
    return flatness.bend(np.concatenate(found))
