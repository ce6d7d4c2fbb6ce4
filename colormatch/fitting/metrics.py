"""The figures that guidelines and standards ask for, from a strip's patches."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from colormatch.model import FloatArray

LIGHT = 80.0
"""L* above which a step between neutrals counts as highlight."""
SMALLEST_STEP = 3.0
"""L* between neighbouring neutrals below which their ratio is only noise."""


def measured_metrics(
    xyz: FloatArray,
    reference: FloatArray,
    *,
    neutral: NDArray[np.bool_],
    along: FloatArray,
    noise_l: FloatArray | None = None,
    scale_error: float | None = None,
) -> dict[str, float | list[float]]:
    """Give every metric a strip can show, by the keys of `standards.METRICS`.

    Parameters
    ----------
    xyz, reference : ndarray of shape (N, 3)
        Patches as scanned and corrected, and as they should be.
    neutral : ndarray of bool, shape (N,)
        Which patches are greys or paper.
    along : ndarray of shape (N,)
        Place along the strip, -1 to 1.
    noise_l : ndarray of shape (N,), optional
        Standard deviation of L* inside each patch.
    scale_error : float, optional
        Percent.
    """
    lab, wanted = lab_from_xyz(np.maximum(xyz, 0.0)), lab_from_xyz(reference)
    values = colour_metrics(lab, wanted)
    if neutral.sum() >= 4:
        values |= neutral_metrics(lab[neutral], wanted[neutral])
        apart = ends_apart(xyz[neutral], reference[neutral], along[neutral])
        if apart is not None:
            values["light_difference"] = apart
        if noise_l is not None:
            values["noise_l"] = float(noise_l[neutral].max())
    if scale_error is not None:
        values["scale_error"] = scale_error
    return values


def colour_metrics(lab: FloatArray, wanted: FloatArray) -> dict[str, float | list[float]]:
    """Mean, percentiles and largest difference, by each formula in use."""
    full = delta_e_2000(lab, wanted)
    flat = delta_e_2000(lab, wanted, lightness_weight=False)
    plain = np.linalg.norm(lab - wanted, axis=-1)
    return {
        "mean_de00": float(full.mean()),
        "p90_de00": float(np.percentile(full, 90)),
        "p95_de00": float(np.percentile(full, 95)),
        "max_de00": float(full.max()),
        "mean_de00_sl1": float(flat.mean()),
        "max_de00_sl1": float(flat.max()),
        "mean_de76": float(plain.mean()),
        "max_de76": float(plain.max()),
    }


def neutral_metrics(lab: FloatArray, wanted: FloatArray) -> dict[str, float | list[float]]:
    """Tone, white balance and gain modulation of the greys."""
    off = lab - wanted
    chroma = np.linalg.norm(lab[:, 1:], axis=1) - np.linalg.norm(wanted[:, 1:], axis=1)
    values: dict[str, float | list[float]] = {
        "tone_dl": float(np.abs(off[:, 0]).max()),
        "white_balance_de_ab": float(np.linalg.norm(off[:, 1:], axis=1).max()),
        "white_balance_dc": float(np.abs(chroma).max()),
        "neutral_de76": float(np.linalg.norm(off, axis=1).max()),
    }
    highlights, other = gain_modulation(lab[:, 0], wanted[:, 0])
    if highlights:
        values["gain_highlights"] = highlights
    if other:
        values["gain_other"] = other
    return values


def gain_modulation(lightness: FloatArray, wanted: FloatArray) -> tuple[list[float], list[float]]:
    """Give steps of L* over the same steps in the reference, highlights and the rest.

    Greys whose reference differs by less than `SMALLEST_STEP` are averaged
    first: repeated greys are one step of the scale, not two.

    References
    ----------
    Metamorfoze Preservation Imaging Guidelines 1.0 (2012), section 1.6.
    """
    order = np.argsort(wanted)[::-1]
    steps = np.split(order, np.flatnonzero(np.diff(wanted[order]) < -SMALLEST_STEP) + 1)
    seen = np.array([lightness[s].mean() for s in steps])
    right = np.array([wanted[s].mean() for s in steps])
    ratio = np.diff(seen) / np.diff(right)
    light = right[1:] >= LIGHT
    if len(ratio) and not light.any():
        light[0] = True
    return ratio[light].tolist(), ratio[~light].tolist()


def ends_apart(xyz: FloatArray, reference: FloatArray, along: FloatArray) -> float | None:
    """Difference of light between the greys at the strip's two ends, percent.

    Each patch's light is taken relative to its own reference, so that two
    prints of one grey that measure slightly different do not count as uneven.
    Dark greys, where a little noise is a large share, are left out.
    """
    bright = reference[:, 1] > 0.1
    ratio = np.log(np.maximum(xyz[bright, 1], 1e-4) / reference[bright, 1])
    left, right = along[bright] < -0.4, along[bright] > 0.4
    if left.sum() < 3 or right.sum() < 3:
        return None
    return float(abs(np.expm1(np.median(ratio[left]) - np.median(ratio[right]))) * 100.0)
