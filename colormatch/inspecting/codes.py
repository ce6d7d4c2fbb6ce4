"""What the codes themselves tell: coarse steps, and blocks of a lossy compression."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray

Codes = NDArray[np.uint8] | NDArray[np.uint16]

STEP_L = 10.0
"""L* at which the steps of the scale are judged: the darkest tones of most paintings."""
STEP_LIMIT = 1.0
"""Step of L* there that can be seen in a smooth passage (common practice, no source)."""
LEAST_SAMPLES = 4000
EIGHT = 256
"""Side of a block of ITU-T T.81 (JPEG), and different codes of 8 bits."""
BLOCK = 8
BLOCK_LIMIT = 0.2
"""Share by which the steps across the borders of blocks of eight exceed their neighbours'
from which they are worth a word: chance gives a few hundredths."""
BLOCK_ERRORS = 4.0
SMALL_STEP = 0.02
"""Encoded: what compression leaves at the borders is less."""
PART = (16, 64)
"""Rows and columns that count as one part: their steps go together."""


def holds_eight_bits(pixels: Codes) -> bool:
    """Tell whether 16-bit codes take no more values than 8 bits have.

    Parameters
    ----------
    pixels : ndarray of uint16, shape (h, w, 3)
        A window with many tones; too few pixels tell nothing, and give False.
    """
    if pixels.dtype != np.uint16 or pixels[..., 1].size < LEAST_SAMPLES:
        return False
    # Every third row is as telling, and quicker.
    used = np.count_nonzero(np.bincount(pixels[::3, :, 1].ravel(), minlength=1 << 16))
    return bool(16 < used <= EIGHT)


def dark_step(bits: int, power: float) -> Noticed:
    """Give the step of L* from one code to the next at `STEP_L`.

    Parameters
    ----------
    bits : int
        That the file really holds per channel.
    power : float
        Of the scan's tone curve: light is the encoded value to this power.
    """
    # CIE 15: Y from L* above the linear part, and its slope.
    light = ((STEP_L + 16) / 116) ** 3
    per_light = 116 / 3 * light ** (-2 / 3)
    encoded = light ** (1 / power)
    per_code = power * encoded ** (power - 1) / (2**bits - 1)
    return Noticed(measure=float(per_light * per_code), limit=STEP_LIMIT)


def block_edges(windows: list[FloatArray]) -> Noticed:
    """Look for the borders of blocks of eight pixels, as lossy compression leaves them.

    Parameters
    ----------
    windows : list of ndarray, shape (h, w)
        Encoded brightness, each from a place that is a whole number of blocks
        from the others; where the first block begins need not be known.

    Returns
    -------
    Noticed
        By how much steps across such borders exceed the others, as a share,
        mean of both directions; 0 if it may be chance in one of them.
    """
    found = [_excess([w if axis else w.T for w in windows]) for axis in (0, 1)]
    measure = sum(found) / 2 if min(found) > 0 else 0.0
    return Noticed(measure=measure, limit=BLOCK_LIMIT)


def _excess(windows: list[FloatArray]) -> float:
    """Excess of the eighth of all columns' steps that stands out most."""
    sums = [_by_phase(w) for w in windows if w.shape[1] > PART[1] and len(w) > PART[0]]
    if not sums:
        return 0.0
    rows = np.concatenate(sums)
    mean, error = rows.mean(axis=0), rows.std(axis=0) / np.sqrt(len(rows))
    best = int(np.argmax(mean))
    others = np.delete(mean, best)
    if mean[best] - np.median(others) < BLOCK_ERRORS * error[best]:
        return 0.0
    return float(mean[best] - others.max())


def _by_phase(window: FloatArray) -> FloatArray:
    """Give the steps at each phase of eight columns, over their mean, in many parts: (N, 8)."""
    # Printed edges are no borders of blocks, however they lie: their steps are cut short.
    steps = np.diff(window, axis=1)
    np.abs(steps, out=steps)
    np.minimum(steps, SMALL_STEP, out=steps)
    rows, columns = len(steps) // PART[0] * PART[0], steps.shape[1] // PART[1] * PART[1]
    parts = steps[:rows, :columns].reshape(rows // PART[0], PART[0], -1, PART[1] // BLOCK, BLOCK)
    by_phase = parts.mean(axis=1).mean(axis=2).reshape(-1, BLOCK)
    level = by_phase.mean(axis=1, keepdims=True)
    kept = level[:, 0] > 0
    return np.asarray(by_phase[kept] / level[kept])
