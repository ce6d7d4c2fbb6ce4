"""Paint that grows softer toward one of its sides, as where it did not touch the glass.

A blur takes fine texture and leaves coarse texture: by ``exp(-(2 pi f s)^2)`` of the energy at
frequency f for a standard deviation s. So texture of three octaves is compared place by
place with what is usual in this painting. Paint may be smoother at a side than elsewhere; it
must therefore be so along the whole side, by more than any place farther in differs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.inspecting.areas import Mask, Pitch
from colormatch.inspecting.grain import brightness
from colormatch.inspecting.records import Box, Noticed
from colormatch.model import FloatArray, Survey

OCTAVES = ((0.25, 0.5), (0.5, 1.0), (1.0, 2.0))
"""Cycles per mm: prints resolve 6, but noise covers finer texture in one scan."""
SQUARES = np.array([0.12, 0.5, 1.9])
"""Mean square of the frequency in each, texture falling off as paint's does."""
WINDOW_MM = 8.0
NEAR, NEXT, INSIDE = (-0.5, 5.0), (5.0, 12.0), (26.0, 50.0)
"""Distances from a side, mm, that are compared."""
PART_MM = 20.0
"""Parts of a side that are asked one by one."""
FARTHER_IN = (30.0, 50.0, 70.0, 90.0, 110.0)
"""Where the same is asked of lines inside the painting, mm from the side."""
NOISE_STEPS = 6
LEAST_PLACES = 100


@dataclass(frozen=True, kw_only=True)
class Rule:
    """How a lifted side is told from smoother paint.

    ``limit`` is the blur (standard deviation, mm) worth a word: over one pixel of a print at
    300 ppi, 0.085 mm. ``surely`` is how many times its own scatter the mean over the parts must
    reach, ``agreeing`` the share of parts that are softer, ``beyond`` how many times as soft the
    side is as any line farther in, ``parts`` the least number asked.
    """

    limit: float = 0.10
    surely: float = 5.0
    agreeing: float = 0.9
    beyond: float = 2.0
    parts: int = 4


RULE = Rule()


@dataclass(frozen=True, kw_only=True, eq=False)
class _Windows:
    """Windows of the lines kept at full resolution, (K, J), and where they lie, mm."""

    painted: Mask
    x: FloatArray
    y: FloatArray
    row: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class _Texture(_Windows):
    """What the windows tell of blur."""

    telling: Mask
    square: FloatArray
    """Square of the blur, mm², against what is usual; noisy, below 0 where crisper."""


def lifted_sides(
    survey: Survey, painting: Mask, noise: tuple[FloatArray, FloatArray], pitch: Pitch
) -> Noticed:
    """Look for a side of the painting toward which its texture grows soft.

    Parameters
    ----------
    survey : Survey
        Of the scan.
    painting : ndarray of bool, shape (h, w)
        Blocks that show the painting.
    noise : tuple of ndarray
        Encoded level of plain patches, (N,), and the variance of a pixel's mean over the
        channels there, (N,).
    pitch : tuple of float
        Width and height of a block, mm.

    Returns
    -------
    Noticed
        Standard deviation of the blur, mm; 0 where nothing is softer or too little
        texture tells. The places are strips along the sides.
    """
    ends = _ends(painting, pitch)
    seen = _texture(survey, painting, noise, pitch, ends) if _fine_enough(survey, pitch) else None
    if seen is None:
        return Noticed(measure=0.0, limit=RULE.limit)
    found = []
    for number, depth in enumerate(_depths(seen, ends, pitch)):
        along = seen.y if number < 2 else seen.x
        blur = _blur(seen, depth, along)
        if blur > RULE.limit:
            found.append((blur, _box(number, painting, pitch)))
    found.sort(key=lambda one: -one[0])
    return Noticed(
        measure=found[0][0] if found else 0.0,
        limit=RULE.limit,
        places=tuple(box for _, box in found),
        count=len(found),
    )


def _fine_enough(survey: Survey, pitch: Pitch) -> bool:
    """Whether the scan resolves the finest octave, and is wide enough to compare."""
    px_per_mm = survey.step / pitch[0]
    wide, high = survey.lines.shape[1], len(survey.lines)
    return px_per_mm >= 2.2 * OCTAVES[-1][1] and wide >= 4 * WINDOW_MM * px_per_mm and high > 8


def pixel_noise(rgb: FloatArray, spread: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give level and variance of pixels of plain patches, darkest first.

    Parameters
    ----------
    rgb, spread : ndarray of shape (N, 3)
        Encoded means and standard deviations of the patches' pixels.
    """
    level = rgb.mean(axis=1)
    variance = (spread * spread).sum(axis=1) / 9
    parts = np.array_split(np.argsort(level), min(NOISE_STEPS, len(level)))
    # Below the middle: dots of print are no noise.
    return (
        np.array([np.median(level[p]) for p in parts]),
        np.array([np.quantile(variance[p], 0.4) for p in parts]),
    )


def _texture(
    survey: Survey,
    painting: Mask,
    noise: tuple[FloatArray, FloatArray],
    pitch: Pitch,
    ends: tuple[FloatArray, ...],
) -> _Texture | None:
    energy, from_noise, starts, wide = _energies(survey, noise, survey.step / pitch[0])
    rows = np.clip((survey.line_rows + 0.5) / survey.step, 0, len(painting) - 1).astype(int)
    painted = _all_painted(painting[rows], starts, wide, survey.step)
    x, y = np.meshgrid(
        (starts + wide / 2) / survey.step * pitch[0],
        (survey.line_rows + 0.5) / survey.step * pitch[1],
    )
    signal = np.maximum(energy - from_noise, 0.3 * from_noise)
    coarse = painted & (energy[0] > 5 * from_noise[0])
    log = np.log(signal + 1e-15)
    fine = np.stack([log[1] - log[0], log[2] - log[0]], axis=-1)
    windows = _Windows(painted=painted, x=x, y=y, row=rows)
    inner = coarse & (np.min(_depths(windows, ends, pitch), axis=0) > NEXT[1])
    if inner.sum() < LEAST_PLACES:
        return None
    rich = inner & (signal[0] >= np.quantile(signal[0][inner], 0.3))
    # Only where texture as fine as usual would stand out from the noise does its lack tell.
    usual = np.exp(np.median(fine[rich], axis=0))
    telling = coarse & (signal[0] * usual[:, None, None] > 3 * from_noise[1:]).all(axis=0)
    if (telling & inner).sum() < LEAST_PLACES:
        return None
    square = _squared_blur(fine, telling & inner)
    return _Texture(**vars(windows), telling=telling, square=square)


def _squared_blur(fine: FloatArray, usual: Mask) -> FloatArray:
    """Weigh the octaves by how little they scatter in this painting (least squares)."""
    off = fine - np.median(fine[usual], axis=0)
    lost = -4 * np.pi**2 * (SQUARES[1:] - SQUARES[0])
    scatter = np.cov(np.clip(off[usual], -3, 3).T) + 0.05 * np.eye(2)
    weights = np.linalg.solve(scatter, lost)
    return np.asarray(off @ (weights / (weights @ lost)))


def _energies(
    survey: Survey, noise: tuple[FloatArray, FloatArray], px_per_mm: float
) -> tuple[FloatArray, FloatArray, FloatArray, int]:
    """Energy of each octave, (3, K, J), what of it is noise, first pixels and width."""
    wide = round(WINDOW_MM * px_per_mm)
    hop = max(1, wide // 3)
    grey = brightness(survey.lines)
    cut = np.lib.stride_tricks.sliding_window_view(grey, wide, axis=1)[:, ::hop]
    level = cut.mean(axis=2)
    slope = np.linspace(-1, 1, wide, dtype=np.float32)
    slope /= np.linalg.norm(slope)
    flat = cut - level[..., None]
    flat = flat - (flat @ slope)[..., None] * slope
    taper = np.hanning(wide).astype(np.float32)
    power = np.abs(np.fft.rfft(flat * taper, axis=2)) ** 2
    cycles = np.fft.rfftfreq(wide) * px_per_mm
    white = np.interp(level, *noise) / survey.step * float((taper * taper).sum())
    bins = [(cycles >= low) & (cycles < high) for low, high in OCTAVES]
    energy = np.stack([power[..., chosen].sum(axis=2) for chosen in bins])
    from_noise = np.stack([white * chosen.sum() for chosen in bins])
    return energy, from_noise, np.arange(level.shape[1]) * hop, wide


def _all_painted(lines: Mask, starts: FloatArray, wide: int, step: int) -> Mask:
    counted = np.pad(np.cumsum(lines, axis=1), ((0, 0), (1, 0)))
    first = starts // step
    last = np.minimum((starts + wide - 1) // step + 1, lines.shape[1])
    return np.asarray(counted[:, last] - counted[:, first] == last - first)


def _ends(painting: Mask, pitch: Pitch) -> tuple[FloatArray, ...]:
    """Where the painting begins and ends in each row, and in each column, mm."""
    found = []
    for mask, mm in ((painting, pitch[0]), (painting.T, pitch[1])):
        found += [mask.argmax(axis=1) * mm, (mask.shape[1] - mask[:, ::-1].argmax(axis=1)) * mm]
    return tuple(found)


def _depths(seen: _Windows, ends: tuple[FloatArray, ...], pitch: Pitch) -> tuple[FloatArray, ...]:
    """Distance of the windows' nearer end from the left, right, top and bottom, mm."""
    left, right, top, bottom = ends
    row = seen.row[:, None]
    column = np.clip(seen.x[0] / pitch[0], 0, len(top) - 1).astype(int)[None]
    half = WINDOW_MM / 2
    return (
        seen.x - left[row] - half,
        right[row] - seen.x - half,
        seen.y - top[column],
        bottom[column] - seen.y,
    )


def _blur(seen: _Texture, depth: FloatArray, along: FloatArray) -> float:
    """Blur at a side against farther in, mm; 0 if its parts do not agree."""
    rule = RULE
    softer = _softer(seen, depth, along)
    if len(softer) < rule.parts:
        return 0.0
    square = float(np.median(softer[:, 0]))
    error = float(softer[:, 0].std(ddof=1)) / len(softer) ** 0.5 + 1e-4
    agree = float((softer[:, 0] > square / 4).mean())
    grows = float(np.median(softer[:, 1])) < square
    if square <= 0 or softer[:, 0].mean() < rule.surely * error or agree < rule.agreeing:
        return 0.0
    others = [_softer(seen, depth - away, along) for away in FARTHER_IN]
    within = [abs(float(np.median(o[:, 0]))) for o in others if len(o) >= rule.parts]
    if not within or square < rule.beyond * max(within) or not grows:
        return 0.0
    return float(np.sqrt(square))


def _softer(seen: _Texture, depth: FloatArray, along: FloatArray) -> FloatArray:
    """Squared blur of each part near the side and next to it, over that inside; (N, 2)."""
    found = []
    for start in np.arange(0.0, float(along.max()) + PART_MM, PART_MM):
        part = (along >= start) & (along < start + PART_MM)
        near, beside, inside = (
            _typical(seen, part & (depth >= low) & (depth < high))
            for low, high in (NEAR, NEXT, INSIDE)
        )
        if near is not None and inside is not None:
            found.append((near - inside, 0.0 if beside is None else beside - inside))
    return np.array(found).reshape(-1, 2)


def _typical(seen: _Texture, where: Mask) -> float | None:
    """Median over a part; None where too little of it tells."""
    painted, telling = where & seen.painted, where & seen.telling
    if painted.sum() < 6 or telling.sum() < max(4.0, 0.3 * painted.sum()):
        return None
    return float(np.median(seen.square[telling]))


def _box(number: int, painting: Mask, pitch: Pitch) -> Box:
    """Strip along a side: left, right, top, bottom."""
    rows, columns = np.flatnonzero(painting.any(axis=1)), np.flatnonzero(painting.any(axis=0))
    x, right = columns[0] * pitch[0], (columns[-1] + 1) * pitch[0]
    y, bottom = rows[0] * pitch[1], (rows[-1] + 1) * pitch[1]
    wide = WINDOW_MM + NEAR[1]
    boxes = (
        (x, y, wide, bottom - y),
        (right - wide, y, wide, bottom - y),
        (x, y, right - x, wide),
        (x, bottom - wide, right - x, wide),
    )
    left, top, width, height = boxes[number]
    return float(left), float(top), float(width), float(height)
