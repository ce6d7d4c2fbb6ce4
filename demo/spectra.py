"""Wavelengths, lamps, sensor filters and the standard observer.

Everything here is invented by smooth formulas, except the observer and D50,
which come from colour-science (CIE 015). Reflectances live on `GRID`; lamps
and filters on `FINE`, because a mercury line is narrower than a grid step.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from colormatch.model import FloatArray

GRID: FloatArray = np.arange(380.0, 731.0, 10.0)
"""Wavelengths of reflectance spectra, nm."""

FINE: FloatArray = np.arange(380.0, 731.0, 1.0)
"""Wavelengths of lamps, filters and observer, nm."""

LAMPS = ("white-led", "fluorescent", "three-led", "three-led-soft", "three-led-far")
"""Names of the lamps a scanner can have."""

SENSORS = ("broad", "steep", "leaning")
"""Names of the sets of colour filters a scanner can have."""

LEDS = {
    "three-led-soft": ((625, 40), (540, 95), (455, 26)),
    "three-led": ((628, 20), (528, 36), (458, 22)),
    "three-led-far": ((645, 17), (515, 30), (468, 20)),
}
"""Peak and width, nm, of the red, green and blue LED of three-LED lamps.

The soft one has a green made by a phosphor; the far one's peaks lie farther from
450, 530 and 610 nm, where three lines serve the eye best (W. A. Thornton, 1971;
from memory).
"""


def peak(wavelength: FloatArray, centre: float, width: float) -> FloatArray:
    """Gaussian of height 1; ``width`` is its full width at half height, nm."""
    return np.asarray(np.exp(-4 * np.log(2) * ((wavelength - centre) / width) ** 2))


def rise(wavelength: FloatArray, centre: float, width: float) -> FloatArray:
    """Smooth step from 0 to 1; 12 % to 88 % within ``width`` nm."""
    return np.asarray(1 / (1 + np.exp(-4 * (wavelength - centre) / width)))


def grid_from_fine(weights: FloatArray) -> FloatArray:
    """Fold weights on `FINE`, shape (..., 351), to `GRID`, shape (..., 36).

    A sum over `GRID` with the result equals the sum over `FINE` of a
    reflectance interpolated linearly between grid points.
    """
    hats = np.clip(1 - np.abs(FINE[:, None] - GRID[None, :]) / 10.0, 0.0, None)
    return weights @ hats


def lamp(name: str) -> FloatArray:
    """Relative power of a lamp on `FINE`, shape (351,)."""
    if name == "white-led":
        phosphor = 0.62 * peak(FINE, 545, 110) + 0.58 * peak(FINE, 612, 110)
        return 0.9 * peak(FINE, 452, 24) + phosphor
    if name == "fluorescent":
        lines = ((405, 3, 0.25), (436, 4, 0.85), (488, 12, 0.35), (544, 7, 2.2), (578, 5, 0.45))
        red = ((588, 9, 0.4), (611, 6, 2.4), (631, 8, 0.35), (651, 8, 0.2), (707, 8, 0.15))
        sharp = sum(height * peak(FINE, centre, width) for centre, width, height in lines + red)
        return np.asarray(sharp + 0.55 * peak(FINE, 450, 48) + 0.05)
    if name in LEDS:
        return np.asarray(sum(peak(FINE, *one) for one in LEDS[name]))
    raise ValueError(f"lamp must be one of {', '.join(LAMPS)} (got {name!r})")


def filters(name: str) -> FloatArray:
    """Transmittance of the red, green and blue filter on `FINE`, shape (3, 351)."""
    if name == "broad":
        red = rise(FINE, 568, 44) + 0.05 * peak(FINE, 445, 60)
        green, blue, infrared = peak(FINE, 533, 97), peak(FINE, 455, 70), 660
    elif name == "leaning":
        red = rise(FINE, 574, 40) + 0.06 * peak(FINE, 445, 60)
        green, blue, infrared = peak(FINE, 535, 94), peak(FINE, 457, 76), 664
    elif name == "steep":
        red = rise(FINE, 604, 22)
        green, blue, infrared = peak(FINE, 534, 60), peak(FINE, 449, 60), 685
    else:
        raise ValueError(f"sensor must be one of {', '.join(SENSORS)} (got {name!r})")
    return np.stack([red, green, blue]) * rise(-FINE, -infrared, 40)


def sensor_weights(lamp_name: str, sensor_name: str) -> FloatArray:
    """Weights (3, 36): ``reflectance @ weights.T`` is linear scanner RGB.

    The perfect diffuser reads 1 in each channel, as after a scanner's own
    calibration on its white. Three LEDs are flashed in turn before a sensor
    without colour filters, so there the lamp alone makes the colours.
    """
    if lamp_name in LEDS:
        light = np.stack([peak(FINE, *one) for one in LEDS[lamp_name]])
        silicon = 0.5 + 0.5 * rise(FINE, 520, 200)
        return _normalised(light * silicon)
    return _normalised(filters(sensor_name) * lamp(lamp_name))


def _normalised(weights: FloatArray) -> FloatArray:
    folded = grid_from_fine(weights)
    return np.asarray(folded / folded.sum(axis=1, keepdims=True))


@cache
def observer_weights() -> FloatArray:
    """Weights (3, 36): ``reflectance @ weights.T`` is XYZ for D50, 2 degrees.

    CIE 015: colour-matching functions times D50 in 1 nm steps, Y of the
    perfect diffuser 1.
    """
    from colormatch.colour.science import colour_science

    science = colour_science()
    shape = science.SpectralShape(FINE[0], FINE[-1], 1)
    functions = science.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    daylight = science.SDS_ILLUMINANTS["D50"].copy().align(shape)
    folded = grid_from_fine(np.asarray(functions.values).T * np.asarray(daylight.values))
    return np.asarray(folded / folded[1].sum())


def xyz_from_spectra(reflectance: FloatArray) -> FloatArray:
    """XYZ (..., 3), D50 and 2 degrees, of reflectances (..., 36)."""
    return reflectance @ observer_weights().T
