"""Bands across the carriage: a wave of light that is the same over the whole width.

A painting's stripes differ from place to place; what the lamp or the carriage
does holds its phase over everything on the glass. So the wave is fitted in many
blocks by themselves, flat ones counting more, and must agree among them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.inspecting.lines import LEAST_LEVEL, relative_light
from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray


@dataclass(frozen=True, kw_only=True)
class Rule:
    """How bands are told from paint.

    ``limit`` is the amplitude in percent of light: 1 % from the lightest to the
    darkest band, as FADGI 2016 allows for its best grade of evenness. ``surely``
    is how many times its own scatter between the blocks a wave must have, among
    some hundred periods tried; ``agreeing`` the share of the weight in blocks
    whose own wave lies within ``like`` of it.
    """

    limit: float = 0.5
    shortest_mm: float = 0.6
    longest_mm: float = 16.0
    samples_per_mm: float = 6.0
    block_mm: float = 36.0
    groups: int = 8
    surely: float = 4.2
    like: float = 0.7
    agreeing: float = 0.55
    clip: float = 3.0
    heaviest: float = 20.0


RULE = Rule()


def banding(lanes: FloatArray, power: float, px_per_mm: float) -> Noticed:
    """Find a wave of light down the scan.

    Parameters
    ----------
    lanes : ndarray of float32, shape (H, L, 3)
        Mean of every row in each of L lanes side by side, encoded.
    power : float
        Of the scan's tone curve.
    px_per_mm : float
        Down the lanes.

    Returns
    -------
    Noticed
        Amplitude, percent of light. One place is given if there is a wave: its
        height is the period.
    """
    nothing = Noticed(measure=0.0, limit=RULE.limit)
    times = max(1, round(px_per_mm / RULE.samples_per_mm))
    rows, pitch = len(lanes) // times, px_per_mm / times
    if lanes.shape[1] < RULE.groups or rows < 2 * RULE.block_mm * pitch:
        return nothing
    fewer = lanes[: rows * times].reshape(rows, times, *lanes.shape[1:]).mean(axis=1)
    off, weight = _uneven(relative_light(fewer, power).mean(axis=2), pitch)
    cycles = np.arange(
        1 / (0.75 * RULE.longest_mm), min(1 / RULE.shortest_mm, pitch / 2), 0.5 * pitch / rows
    )
    waves, heavy = _by_block(off, weight, cycles / pitch, round(RULE.block_mm * pitch))
    shared, sure, agree = _agreed(waves, heavy)
    seen = (sure > RULE.surely) & (agree > RULE.agreeing)
    if not seen.any():
        return nothing
    best = int(np.argmax(np.where(seen, sure, 0.0)))
    period = float(1 / cycles[best])
    return Noticed(
        measure=100 * float(np.abs(shared[best])),
        limit=RULE.limit,
        places=((0.0, 0.0, 0.0, period),),
        count=1,
    )


def _uneven(light: FloatArray, pitch: float) -> tuple[FloatArray, FloatArray]:
    """Give what is left of (H, L) without slow changes and outliers, and how flat it is there."""
    import cv2

    long = round(RULE.longest_mm * pitch) | 1

    def smooth(values: FloatArray) -> FloatArray:
        return np.asarray(cv2.blur(values, (1, long), borderType=cv2.BORDER_REFLECT_101))

    off = light - smooth(light)
    level = smooth(np.abs(off)) + np.float32(LEAST_LEVEL)
    return np.clip(off, -RULE.clip * level, RULE.clip * level), 1 / (level * level)


def _by_block(
    off: FloatArray, weight: FloatArray, cycles: FloatArray, tall: int
) -> tuple[FloatArray, FloatArray]:
    """Fit every wave, ``cycles`` per row, in every block: (B, F) complex, and weights (B,)."""
    split = np.array_split(np.arange(off.shape[1]), RULE.groups)
    mass = np.stack([weight[:, g].sum(axis=1) for g in split], axis=1)
    pull = np.stack([(off[:, g] * weight[:, g]).sum(axis=1) for g in split], axis=1)
    turns = np.exp(-2j * np.pi * np.arange(tall)[:, None] * cycles)
    waves, heavy = [], []
    for first in range(0, len(off) - tall // 2, tall):
        rows = slice(first, first + tall)
        total = mass[rows].sum(axis=0)
        level = pull[rows] - mass[rows] * (pull[rows].sum(axis=0) / total)
        # Every block's phase is told from the top of the scan.
        phase = np.exp(-2j * np.pi * first * cycles)
        waves.append(2 * (level.T @ turns[: len(level)]) * phase / total[:, None])
        heavy.append(total)
    return np.concatenate(waves), np.concatenate(heavy)


def _agreed(waves: FloatArray, heavy: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give, per wave: the shared one, its size against its scatter, and the share that agrees."""
    share = np.minimum(heavy, RULE.heaviest * np.median(heavy))
    share = (share / share.sum())[:, None]
    shared = (share * waves).sum(axis=0)
    apart = np.abs(waves - shared)
    scatter = np.sqrt((share**2 * apart**2).sum(axis=0))
    size = np.abs(shared)
    agree = (share * (apart < RULE.like * size)).sum(axis=0)
    return shared, size / np.maximum(scatter, 1e-12), agree
