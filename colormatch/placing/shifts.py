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
ROUGH_STEPS = 3
"""Where a second look follows."""
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
    mean = np.einsum("kyx,yx->k", blocks, window) / window.sum()
    result: FloatArray = blocks - mean[:, None, None]
    result *= window
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
    return Template(first).measured(second, search)


class Template:
    """Blocks (K, n, n) that others are compared with more than once, transformed once."""

    def __init__(self, blocks: FloatArray) -> None:
        self.blocks = blocks
        self.spectrum = _spectrum(blocks)
        self.power = _squared(self.spectrum)

    def found(self, second: FloatArray, search: int) -> tuple[FloatArray, FloatArray]:
        """Shift and peak as in `Shifts`, the shift to a thousandth of a pixel."""
        spectra, shift, inside = self._crossed(second, search)
        shift, sums = _newton(spectra, shift, ROUGH_STEPS)
        return shift, self._peak(spectra, sums.total, inside)

    def measured(self, second: FloatArray, search: int) -> Shifts:
        """Compare as `measured_shifts` does."""
        spectra, shift, inside = self._crossed(second, search)
        shift, sums = _newton(spectra, shift, NEWTON_STEPS)
        return Shifts(
            shift=shift,
            covariance=_covariance(spectra, sums, self, second),
            peak=self._peak(spectra, sums.total, inside),
        )

    def _crossed(
        self, second: FloatArray, search: int
    ) -> tuple[_Spectra, FloatArray, NDArray[np.bool_]]:
        """Cross spectrum, its best whole shift, and whether that is inside the search."""
        from scipy import fft

        other = _spectrum(second)
        cross = np.conj(self.spectrum)
        cross *= other
        size = cross.shape[1]
        start, inside = _whole_peak(fft.irfft2(cross, s=(size, size)), search)
        spectra = _Spectra(cross=cross, power=_squared(other), size=size)
        return spectra, start.astype(float), inside

    def _peak(self, spectra: _Spectra, value: FloatArray, inside: NDArray[np.bool_]) -> FloatArray:
        """Correlation coefficient for the sum ``value`` of the cross spectrum."""
        energy = np.sqrt(spectra.total(self.power) * spectra.total(spectra.power))
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(np.where(inside & (energy > 0), value / energy, 0.0))


def _spectrum(blocks: FloatArray) -> NDArray[np.complexfloating]:
    """Transform blocks under their window."""
    from scipy import fft

    result: NDArray[np.complexfloating] = fft.rfft2(tapered(blocks))
    return result


def _squared(plane: NDArray[np.complexfloating]) -> FloatArray:
    """Power of a spectrum."""
    return np.asarray(plane.real**2 + plane.imag**2)


def _whole_peak(surface: FloatArray, search: int) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Best whole shift (x, y) within the search, and whether it is inside it."""
    reach = np.arange(-search, search + 1)
    near = surface[:, reach[:, None], reach[None, :]]
    flat = near.reshape(len(near), -1).argmax(axis=1)
    row, column = np.divmod(flat, len(reach))
    inside = (np.abs(reach[row]) < search) & (np.abs(reach[column]) < search)
    return np.stack([reach[column], reach[row]], axis=1), inside


@dataclass(frozen=True, kw_only=True, eq=False)
class _Sums:
    """A spectrum summed over the whole plane: plainly, and by its slopes there.

    Attributes
    ----------
    plane : ndarray of shape (K, N, N // 2 + 1)
        What was summed.
    total : ndarray of shape (K,)
        Real part.
    slope : ndarray of shape (K, 2)
        Imaginary part times the frequency (x, y); zero for a power.
    tensor : ndarray of shape (K, 2, 2)
        Real part times the outer product of the frequency.
    """

    plane: NDArray[np.inexact]
    total: FloatArray
    slope: FloatArray
    tensor: FloatArray


class _Spectra:
    """Cross spectrum, and the second block's power, summed over the plane."""

    def __init__(self, *, cross: NDArray[np.complexfloating], power: FloatArray, size: int) -> None:
        self.cross = cross
        self.power = power
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
        """Sum a real plane, (K,)."""
        return np.asarray((plane @ self.weight).sum(axis=1, dtype=np.float64))

    def sums(self, plane: NDArray[np.inexact]) -> _Sums:
        """Sum a complex spectrum or a power over the plane, all in one pass."""
        columns = np.stack([self.weight, self.weight * self.x, self.weight * self.x**2], axis=1)
        values = plane
        if np.iscomplexobj(plane):
            # Real and imaginary parts lie side by side: each has its rows of the matrix.
            apart = np.zeros((2 * len(self.x), 5), dtype=np.float32)
            apart[::2, :3], apart[1::2, 3:] = columns, columns[:, :2]
            columns, values = apart, plane.view(np.float32)
        rows = (values @ columns).astype(np.float64)
        out = np.empty((len(plane), 2, 2))
        out[:, 0, 0] = rows[..., 2].sum(axis=1)
        out[:, 1, 1] = rows[..., 0] @ self.y**2
        out[:, 0, 1] = out[:, 1, 0] = rows[..., 1] @ self.y
        slope = np.zeros((len(plane), 2))
        if rows.shape[-1] > 3:
            slope[:, 0], slope[:, 1] = rows[..., 4].sum(axis=1), rows[..., 3] @ self.y
        return _Sums(plane=plane, total=rows[..., 0].sum(axis=1), slope=slope, tensor=out)


def _newton(spectra: _Spectra, start: FloatArray, steps: int) -> tuple[FloatArray, _Sums]:
    """Follow each correlation's peak from a whole shift to its top; the sums there."""
    shift = start
    sums = spectra.sums(spectra.turned(shift))
    for _ in range(steps):
        step = np.einsum("kij,kj->ki", _safe_inverse(sums.tensor), -sums.slope)
        shift = np.clip(shift + np.clip(step, -0.7, 0.7), start - 1.0, start + 1.0)
        sums = spectra.sums(spectra.turned(shift))
    return np.asarray(shift), sums


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
    # At a block's rim the window is zero.
    window = taper(first.shape[1])[1:-1, 1:-1] ** 2 / 4.0
    ours = [slope * window for slope in _doubled_slopes(first)]
    theirs = _doubled_slopes(second)
    tensor = np.array(
        [[np.einsum("kyx,kyx->k", one, two) for two in theirs] for one in ours]
    ).transpose(2, 0, 1)
    return np.asarray((tensor + tensor.transpose(0, 2, 1)) / 2.0)


def _doubled_slopes(blocks: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Twice the slopes across and down of all but the outermost pixels."""
    across = blocks[:, 1:-1, 2:] - blocks[:, 1:-1, :-2]
    down = blocks[:, 2:, 1:-1] - blocks[:, :-2, 1:-1]
    return across, down


def _covariance(
    spectra: _Spectra, sums: _Sums, template: Template, second: FloatArray
) -> FloatArray:
    """Sandwich covariance; `UNSEEN` along directions that the block does not show.

    ``sums`` are those of the cross spectrum at its peak.
    """
    curvature = np.trace(sums.tensor, axis1=1, axis2=2)
    middle = spectra.sums(template.power * _residual(spectra, sums, template)).tensor
    values, vectors = np.linalg.eigh(_gradients(template.blocks, second))
    total = values.sum(axis=1)
    sound = (curvature > 0) & (total > 0) & (values[:, 1] > 0)
    factor = np.where(sound, curvature / np.where(total > 0, total, 1.0), 0.0)
    seen = sound[:, None] & (values > ONE_WAY * values[:, 1:])
    inverse = np.where(seen, 1.0 / np.where(seen, values * factor[:, None], 1.0), 0.0)
    root = np.einsum("kij,kj,klj->kil", vectors, inverse, vectors)
    unseen = np.einsum("kij,kj,klj->kil", vectors, np.where(seen, 0.0, UNSEEN), vectors)
    # Multiplied in frequency, window times window counts once too often.
    window = taper(second.shape[1]).astype(np.float64)
    uneven = (window**4).mean() / (window**2).mean() ** 2
    return np.asarray(uneven * (root @ middle @ root) + unseen)


def _residual(spectra: _Spectra, sums: _Sums, template: Template) -> FloatArray:
    """Power of the second block less the first, once shifted and brought to one contrast."""
    total = spectra.total(template.power)
    gain = (sums.total / np.where(total > 0, total, 1.0)).astype(np.float32)[:, None, None]
    residual = gain**2 * template.power
    residual -= 2.0 * gain * sums.plane.real
    residual += spectra.power
    return np.asarray(np.maximum(residual, 0.0, out=residual))
