"""How much more texture one of two blocks shows, noise taken out.

Of each block the energy of the picture in two octave bands is compared. Noise
is told from picture by what the two tiles have in common: with energies A and
B, common part C and the same noise N in both, (A - N)(B - N) = C², so N is the
smaller eigenvalue of [[A, C], [C, B]], and the ratio of the energies of the
picture follows from its other eigenvector. Flat paint has no common part and
is not measurable.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from colormatch.joining.records import BoolArray
from colormatch.model import FloatArray

Bands = tuple[tuple[float, float], ...]
BANDS = ((1 / 16, 1 / 8), (1 / 8, 1 / 4))
"""Cycles per pixel: coarser is hardly changed by a slight blur, finer is mostly noise."""
TIED = 35 / 18
"""Neighbouring frequencies that count as one, per axis, under a Hann window w: sum w^4
over (sum w^2)^2, times the number of samples."""
SPECK = 3.0
"""How many times lighter or darker than its surroundings in the other tile a speck is."""


def compare_blocks(
    first: FloatArray, second: FloatArray, bands: Bands = BANDS
) -> tuple[float, float]:
    """Compare one block in two tiles.

    Parameters
    ----------
    first, second : ndarray of shape (n, n)
        Luminance, linear.
    bands : tuple of (low, high)
        Which, cycles per pixel.

    Returns
    -------
    log_ratio : float
        Natural log of the first's energy over the second's, noise taken out,
        mean of the bands that tell; NaN if none does.
    spread : float
        Its standard deviation; infinite where nothing is in common.
    """
    means = first.mean(), second.mean()
    if not (np.isfinite(means).all() and min(means) > 0):
        return np.nan, np.inf
    levels = _middle(first), _middle(second)
    if min(levels) <= 0:
        return np.nan, np.inf
    clean = np.stack(without_specks(first / levels[0], second / levels[1]))
    # Their means anew: the specks were part of the first ones.
    clean /= clean.mean(axis=(1, 2), keepdims=True)
    clean -= 1
    a, b = np.fft.rfft2(clean * _taper(len(first)).astype(clean.dtype))
    logs, variances = [], []
    for rings, count in _rings(len(first), bands):
        one, other = a[rings], b[rings]
        log, variance = _band_ratio(
            float((np.abs(one) ** 2).sum()),
            float((np.abs(other) ** 2).sum()),
            float(abs((one * other.conj()).sum())),
            count,
        )
        if np.isfinite(variance):
            logs.append(log)
            variances.append(variance)
    if not logs:
        return np.nan, np.inf
    # A band without picture in common is left out: where a strong blur took the finer
    # one away, the coarser alone says less than both would, never more.
    return float(np.mean(logs)), float(np.sqrt(np.sum(variances)) / len(logs))


def without_specks(first: FloatArray, second: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Take from either tile specks of glare and dust that the other does not show.

    A blur moves light by a few pixels and stays within what lies round about; a
    speck is several times lighter or darker than anything the other tile shows
    near it. Where one is, both tiles get the other one's picture, so that it
    counts as texture of neither.

    Parameters
    ----------
    first, second : ndarray of shape (n, n)
        Light over its median.
    """
    import cv2

    around, skirt = np.ones((7, 7), np.uint8), np.ones((9, 9), np.uint8)
    cleaned = []
    for own, other in ((first, second), (second, first)):
        near = np.ascontiguousarray(other, dtype=np.float32)
        lightest = np.asarray(cv2.dilate(near, around))
        darkest = np.asarray(cv2.erode(near, around))
        speck = (own > SPECK * lightest) | (own < darkest / SPECK)
        if not speck.any():
            cleaned.append(own)
            continue
        wide = np.asarray(cv2.dilate(speck.astype(np.uint8), skirt)) > 0
        cleaned.append(np.where(wide, other, own))
    return cleaned[0], cleaned[1]


def _middle(block: FloatArray) -> FloatArray:
    """Give the median: numpy's own first looks for NaN, which takes as long again."""
    half = block.size // 2
    return np.asarray(np.partition(block, half, axis=None)[half])


def _band_ratio(a: float, b: float, common: float, count: float) -> tuple[float, float]:
    """Log energy ratio of what two bands share, and its variance."""
    noise = max(0.5 * (a + b - np.hypot(a - b, 2 * common)), 0.0)
    first, second = a - noise, b - noise
    # The common part of two unlike noises is about sqrt(a b / count).
    if common < 3 * np.sqrt(a * b / count) or min(first, second) <= 0:
        return 0.0, np.inf
    share = noise / first + noise / second + noise**2 / (first * second)
    return float(np.log(first / second)), float(4 * share / count)


@cache
def _taper(size: int) -> FloatArray:
    """Give a Hann window of two dimensions."""
    side = np.hanning(size)
    return side[:, None] * side


@cache
def _rings(size: int, bands: Bands) -> list[tuple[BoolArray, float]]:
    """Frequencies of each band in the half plane, and how many of them are independent."""
    radius = np.hypot(np.fft.fftfreq(size)[:, None], np.fft.rfftfreq(size)[None, :])
    rings = [(radius >= low) & (radius < high) for low, high in bands]
    return [(ring, 2 * float(ring.sum()) / TIED**2) for ring in rings]
