"""Whether a file's XYZ is for D50 and the 2 degree observer, as it must be."""

from __future__ import annotations

import re

import numpy as np

from colormatch.colour.spaces import lab_from_xyz
from colormatch.errors import ReferenceFileError
from colormatch.files.tables import Table
from colormatch.model import FloatArray
from colormatch.standards.colorimetry import A_XY, D50_XYZ, D65_XYZ, xyz_from_xy

STATING = ("ILLUMINANT", "OBSERVER", "WEIGHTING_FUNCTION", "COMPUTATIONAL_PARAMETER")
"""Header words that name illuminant and observer; MEASUREMENT_SOURCE does in some files."""

NEUTRAL = 5.0
"""Chroma, CIELAB, up to which a colour counts as neutral under an assumed white."""

TINTED = 12.0
"""Chroma beyond which the lightest patch is hardly paper under D50."""

ADVICE = "export the values for D50 and the 2 degree observer"


def check_stated_white(table: Table) -> None:
    """Refuse colours that the header itself says are for another white or observer.

    Raises
    ------
    ReferenceFileError
        Quoting what the header states.
    """
    stated = "; ".join(f"{word} {table.header[word]}" for word in STATING if word in table.header)
    stated += "; " + table.header.get("MEASUREMENT_SOURCE", "")
    illuminant = re.search(r"ILLUMINA\w*[\s\"',;:=]*(D[0-9]{2}|A|C|F[0-9]{1,2})\b", stated.upper())
    observer = re.search(r"OBSERVER\w*[\s\"',;:=]*(10)\b", stated.upper())
    if illuminant and illuminant[1] != "D50":
        raise ReferenceFileError(
            f"{table.where}: the values are for illuminant {illuminant[1]}: {ADVICE}"
        )
    if observer:
        raise ReferenceFileError(
            f"{table.where}: the values are for the 10 degree observer: {ADVICE}"
        )


def check_white(xyz: FloatArray, where: str) -> tuple[str, ...]:
    """Judge by the lightest patch and the neutrals whether XYZ is for D50.

    Parameters
    ----------
    xyz : ndarray of shape (N, 3)
        Y of the perfect diffuser 1.
    where : str
        Names the file in messages.

    Returns
    -------
    tuple of str
        A note if the lightest patch looks tinted.

    Raises
    ------
    ReferenceFileError
        If the lightest patch and at least three in all are neutral under another white
        and at most half as many under D50.
    """
    lightest = int(xyz[:, 1].argmax())
    if xyz[lightest, 1] < 0.4 or _chroma(xyz, D50_XYZ)[lightest] <= TINTED:
        return ()
    ours = np.count_nonzero(_chroma(xyz, D50_XYZ) < NEUTRAL)
    for name, white in (("D65", D65_XYZ), ("A", xyz_from_xy(A_XY))):
        neutral = _chroma(xyz, white) < NEUTRAL
        if neutral[lightest] and neutral.sum() >= max(3, 2 * ours):
            raise ReferenceFileError(
                f"{where}: the greys are neutral under illuminant {name}, not D50: {ADVICE}"
            )
    a, b = lab_from_xyz(xyz[lightest])[1:]
    return (f"the lightest patch is tinted (a* {a:.0f}, b* {b:.0f}): are the values for D50?",)


def _chroma(xyz: FloatArray, white: tuple[float, float, float]) -> FloatArray:
    """Give the chroma under an assumed white, blacks counting as fully coloured."""
    lab = lab_from_xyz(xyz / np.array(white) * np.array(D50_XYZ))
    chroma: FloatArray = np.hypot(lab[:, 1], lab[:, 2])
    return np.where(lab[:, 0] > 15, chroma, np.inf)
