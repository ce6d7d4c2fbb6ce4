"""Reflectance spectra in reference files, and what they look like under D50."""

from __future__ import annotations

import re
import warnings
from collections.abc import Sequence

import numpy as np

from colormatch.colour.science import colour_science
from colormatch.errors import ReferenceFileError
from colormatch.model import FloatArray
from colormatch.standards.colorimetry import D50_XYZ

BAND = re.compile(
    r"(?:(?:SPECTRAL|SPEC|REFLECTANCE|REFL|R|NM|PCT|DEC|LAMBDA|WL)_?)*"
    r"(?P<nm>[0-9]{3,4}(?:\.0+)?)(?:_?NM)?",
    re.ASCII,
)
"""Names of one column per band: SPECTRAL_NM380, SPECTRAL_380, NM_380, R_380, 380, 380NM.

Common practice, no source: the standard itself has pairs of SPECTRAL_NM and SPECTRAL_PCT.
"""

SHORTEST, LONGEST = 300, 1100
"""Numbers outside are not wavelengths in nanometres."""

STEPS = (1, 5, 10, 20)
"""Nanometres between bands for which ASTM E308 says how to integrate."""

NEEDED = (400, 700)
"""Nanometres that must be covered: what the simplest instruments measure."""


def bands(columns: Sequence[str]) -> dict[int, float]:
    """Find the columns that hold one band each.

    Parameters
    ----------
    columns : sequence of str
        Names in capitals.

    Returns
    -------
    dict
        Wavelength in nm by index of the column.
    """
    found: dict[int, float] = {}
    for i, name in enumerate(columns):
        match = BAND.fullmatch(name)
        if match and SHORTEST <= float(match["nm"]) <= LONGEST:
            found[i] = float(match["nm"])
    return found


def xyz_from_reflectance(
    wavelengths: FloatArray, reflectance: FloatArray, where: str
) -> FloatArray:
    """Integrate spectra for D50 and the 2 degree observer.

    Parameters
    ----------
    wavelengths : ndarray of shape (B,)
        Nanometres, rising in equal steps of 1, 5, 10 or 20, or of less than 5 (which
        are interpolated to 1), covering 400 to 700.
    reflectance : ndarray of shape (N, B)
        Of each patch, 1 for the perfect diffuser.
    where : str
        Names the file in messages.

    Returns
    -------
    ndarray of shape (N, 3)
        XYZ, in which the perfect diffuser has exactly the ICC D50.

    Raises
    ------
    ReferenceFileError
        If the bands cannot be integrated by the standard's rules.

    References
    ----------
    ASTM E308, computed by colour-science.
    """
    order = np.argsort(wavelengths)
    wavelengths, reflectance = wavelengths[order], reflectance[:, order]
    step = _step(wavelengths, where)
    if step not in STEPS:
        grid = np.arange(np.ceil(wavelengths[0]), np.floor(wavelengths[-1]) + 0.5)
        reflectance = np.stack([np.interp(grid, wavelengths, row) for row in reflectance])
        wavelengths = grid
    weights = _weights(wavelengths)
    white = weights.sum(axis=0)
    xyz: FloatArray = reflectance @ weights * (np.array(D50_XYZ) / white)
    return xyz


def _step(wavelengths: FloatArray, where: str) -> float:
    """Give the distance of neighbouring bands, or say why it will not do."""
    if len(wavelengths) < 2 or wavelengths[0] > NEEDED[0] or wavelengths[-1] < NEEDED[1]:
        raise ReferenceFileError(
            f"{where}: spectra must cover {NEEDED[0]} to {NEEDED[1]} nm "
            f"(got {wavelengths.min():g} to {wavelengths.max():g})"
        )
    steps = np.diff(wavelengths)
    if steps.max() - steps.min() > 0.01 or steps.min() <= 0:
        raise ReferenceFileError(
            f"{where}: spectral bands must follow in equal steps, each once "
            f"(got steps of {steps.min():g} to {steps.max():g} nm)"
        )
    step = round(float(steps.mean()), 2)
    tens = step not in (10, 20) or wavelengths[0] % 10 == 0
    if (step not in STEPS and step > 5) or not tens:
        raise ReferenceFileError(
            f"{where}: spectral bands every {step:g} nm from {wavelengths[0]:g} nm cannot be "
            "integrated: export steps of 1, 5 or 10 nm, beginning at a multiple of ten"
        )
    return step


def _weights(wavelengths: FloatArray) -> FloatArray:
    """Give the weight of each band in X, Y and Z, shape (B, 3).

    Integration is linear, so spectra that are 1 in one band and 0 elsewhere show the
    weights, whichever of the standard's rules applies.
    """
    colour = colour_science()
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    illuminant = colour.SDS_ILLUMINANTS["D50"]
    with warnings.catch_warnings():
        # That tables are aligned and trimmed is what is wanted here.
        warnings.simplefilter("ignore")
        return np.stack(
            [
                colour.sd_to_XYZ(
                    colour.SpectralDistribution(band, wavelengths),
                    observer,
                    illuminant,
                    method="ASTM E308",
                )
                for band in np.eye(len(wavelengths))
            ]
        )
