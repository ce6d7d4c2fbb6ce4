"""How far two pictures of one place are shifted, and how well that is known.

Plain cross-correlation (no whitening: every frequency counts by its own
strength) whose peak is followed between the pixels on the exact Fourier
series, many blocks at once. Covariance by the sandwich of the residual's
spectrum, so that coloured noise is allowed for.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray

NEWTON_STEPS = 4
UNSEEN = 1e6
"""Variance along a direction that a block does not show, pixels squared."""
ONE_WAY = 0.01
"""Smaller over larger eigenvalue of the gradients below which a block shows one way only."""
TAPER = 0.6
"""Share of a block's side over which its window rises and falls."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Shifts:
    """Shifts of K blocks: what is at x in the first is at x + shift in the second.

    Attributes
    ----------
    shift : ndarray of shape (K, 2)
        (x, y), pixels.
    covariance : ndarray of shape (K, 2, 2)
        Pixels squared; `UNSEEN` along a direction that the block does not show.
    peak : ndarray of shape (K,)
        Correlation coefficient at the peak, -1 to 1; 0 where the best place
        lies at the border of the search.
    """

    shift: FloatArray
    covariance: FloatArray
    peak: FloatArray


@cache
def taper(size: int) -> FloatArray:
    """Window of shape (size, size): flat inside, cosine flanks (Tukey's).

    Written out because the library that has it takes a second to import.
    """
    place = np.minimum(np.arange(size), np.arange(size)[::-1]) / (TAPER * (size - 1) / 2.0)
    line = (0.5 - 0.5 * np.cos(np.pi * np.minimum(place, 1.0))).astype(np.float32)
    return np.outer(line, line)


def tapered(blocks: FloatArray) -> FloatArray:
    """Blocks (K, n, n) without their weighted mean, under the window."""
    window = taper(blocks.shape[1])
    mean = (blocks * window).sum(axis=(1, 2), keepdims=True) / window.sum()
    result: FloatArray = (blocks - mean) * window
    return result


def measured_shifts(first: FloatArray, second: FloatArray, search: int) -> Shifts:
    """Compare blocks of equal size.

    Parameters
    ----------
    first, second : ndarray of shape (K, n, n)
        Band-passed, n even.
    search : int
        Largest shift looked for along x and y, pixels; less than n / 2.
    """
    from scipy import fft

    a = fft.rfft2(tapered(first))
    b = fft.rfft2(tapered(second))
    cross = np.conj(a) * b
    start, inside = _whole_peak(fft.irfft2(cross, s=first.shape[1:]), search)
    spectra = _Spectra(cross, first.shape[1])
    shift = _newton(spectra, start.astype(float))
    energy = np.sqrt(spectra.total(np.abs(a) ** 2) * spectra.total(np.abs(b) ** 2))
    value = spectra.total(spectra.turned(shift).real)
    with np.errstate(divide="ignore", invalid="ignore"):
        peak = np.where(inside & (energy > 0), value / energy, 0.0)
    covariance = _covariance(spectra, (a, b), shift, _gradients(first, second))
    return Shifts(shift=shift, covariance=covariance, peak=peak)


def _whole_peak(surface: FloatArray, search: int) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Best whole shift (x, y) within the search, and whether it is inside it."""
    reach = np.arange(-search, search + 1)
    near = surface[:, reach[:, None], reach[None, :]]
    flat = near.reshape(len(near), -1).argmax(axis=1)
    row, column = np.divmod(flat, len(reach))
    inside = (np.abs(reach[row]) < search) & (np.abs(reach[column]) < search)
    return np.stack([reach[column], reach[row]], axis=1), inside


class _Spectra:
    """Cross spectrum that can be turned by a shift and summed over the plane."""

    def __init__(self, cross: NDArray[np.complexfloating], size: int) -> None:
        self.cross = cross
        self.size = size
        self.x = (2.0 * np.pi * np.fft.rfftfreq(size)).astype(np.float32)
        self.y = (2.0 * np.pi * np.fft.fftfreq(size)).astype(np.float32)
        # A real picture's spectrum is stored by half: inner columns count twice.
        self.weight = np.full(len(self.x), 2.0, dtype=np.float32)
        self.weight[0] = 1.0
        self.weight[-1] = 1.0 if size % 2 == 0 else 2.0

    def turned(self, shift: FloatArray) -> NDArray[np.complexfloating]:
        """Cross spectrum after the second picture is shifted back."""
        along_x = np.exp(1j * shift[:, :1] * self.x).astype(np.complex64)
        along_y = np.exp(1j * shift[:, 1:] * self.y).astype(np.complex64)
        result: NDArray[np.complexfloating] = self.cross * along_y[:, :, None]
        result *= along_x[:, None, :]
        return result

    def total(self, plane: FloatArray) -> FloatArray:
        """Sum over the whole plane, (K,)."""
        return np.asarray(plane.sum(axis=1, dtype=np.float64) @ self.weight)

    def slopes(self, plane: FloatArray) -> FloatArray:
        """Sum ``plane`` times the frequency, (K, 2)."""
        columns = plane.sum(axis=1, dtype=np.float64) @ (self.weight * self.x)
        rows = (plane @ self.weight).astype(np.float64) @ self.y
        return np.stack([columns, rows], axis=1)

    def tensor(self, plane: FloatArray) -> FloatArray:
        """Sum ``plane`` times the outer product of the frequency, (K, 2, 2)."""
        out = np.empty((len(plane), 2, 2))
        out[:, 0, 0] = plane.sum(axis=1, dtype=np.float64) @ (self.weight * self.x**2)
        rows = (plane @ self.weight).astype(np.float64)
        out[:, 1, 1] = rows @ self.y**2
        mixed = (plane @ (self.weight * self.x)).astype(np.float64) @ self.y
        out[:, 0, 1] = out[:, 1, 0] = mixed
        return out


def _newton(spectra: _Spectra, shift: FloatArray) -> FloatArray:
    """Follow each correlation's peak from a whole shift to its top."""
    start = shift.copy()
    for _ in range(NEWTON_STEPS):
        turned = spectra.turned(shift)
        slope = -spectra.slopes(turned.imag)
        bend = spectra.tensor(turned.real)
        step = np.einsum("kij,kj->ki", _safe_inverse(bend), slope)
        shift = np.clip(shift + np.clip(step, -0.7, 0.7), start - 1.0, start + 1.0)
    return np.asarray(shift)


def _safe_inverse(tensors: FloatArray) -> FloatArray:
    """Inverse on the directions that hold; zero on the others."""
    values, vectors = np.linalg.eigh(tensors)
    largest = np.maximum(values[:, -1:], 1e-30)
    kept = values > 1e-3 * largest
    inverse = np.where(kept, 1.0 / np.where(kept, values, 1.0), 0.0)
    return np.asarray(np.einsum("kij,kj,klj->kil", vectors, inverse, vectors))


def _gradients(first: FloatArray, second: FloatArray) -> FloatArray:
    """Mean product of the gradients of both blocks under the window, (K, 2, 2).

    The window itself has none here. Under a window stripes look as if they
    ended at its flanks; by this they are known for stripes. What is only
    noise differs between the two and cancels.
    """
    window = taper(first.shape[1]) ** 2
    down_a, across_a = np.gradient(first, axis=(1, 2))
    down_b, across_b = np.gradient(second, axis=(1, 2))
    ours, theirs = (across_a * window, down_a * window), (across_b, down_b)
    tensor = np.array(
        [[np.einsum("kyx,kyx->k", one, two) for two in theirs] for one in ours]
    ).transpose(2, 0, 1)
    return np.asarray((tensor + tensor.transpose(0, 2, 1)) / 2.0)


def _covariance(
    spectra: _Spectra,
    pair: tuple[NDArray[np.complexfloating], NDArray[np.complexfloating]],
    shift: FloatArray,
    gradients: FloatArray,
) -> FloatArray:
    """Sandwich covariance; `UNSEEN` along directions that the block does not show."""
    turned = spectra.turned(shift)
    curvature = np.trace(spectra.tensor(turned.real), axis1=1, axis2=2)
    middle = spectra.tensor(np.abs(pair[0]) ** 2 * _residual(spectra, pair, turned))
    values, vectors = np.linalg.eigh(gradients)
    total = values.sum(axis=1)
    sound = (curvature > 0) & (total > 0) & (values[:, 1] > 0)
    factor = np.where(sound, curvature / np.where(total > 0, total, 1.0), 0.0)
    seen = sound[:, None] & (values > ONE_WAY * values[:, 1:])
    inverse = np.where(seen, 1.0 / np.where(seen, values * factor[:, None], 1.0), 0.0)
    root = np.einsum("kij,kj,klj->kil", vectors, inverse, vectors)
    unseen = np.einsum("kij,kj,klj->kil", vectors, np.where(seen, 0.0, UNSEEN), vectors)
    # Multiplied in frequency, window times window counts once too often.
    window = taper(spectra.size).astype(np.float64)
    uneven = (window**4).mean() / (window**2).mean() ** 2
    return np.asarray(uneven * (root @ middle @ root) + unseen)


def _residual(
    spectra: _Spectra,
    pair: tuple[NDArray[np.complexfloating], NDArray[np.complexfloating]],
    turned: NDArray[np.complexfloating],
) -> FloatArray:
    """Power of the second block less the first, once shifted and brought to one contrast."""
    strength = np.abs(pair[0]) ** 2
    total = spectra.total(strength)
    gain = spectra.total(turned.real) / np.where(total > 0, total, 1.0)
    gain = gain[:, None, None]
    residual = np.abs(pair[1]) ** 2 - 2.0 * gain * turned.real + gain**2 * strength
    return np.asarray(np.maximum(residual, 0.0))
