"""ICC profiles made here: of the two RGB spaces, and of a scanner as measured."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
from numpy.typing import ArrayLike

from colormatch.colour.spaces import RGBSpace, adaptation
from colormatch.files.icc import (
    gamma_element,
    matrix_element,
    parametric_element,
    profile_bytes,
    table_element,
    text_elements,
    xyz_element,
)
from colormatch.files.input_profiles import InputProfile, read_input_profile
from colormatch.standards import D50_XYZ, D65_XYZ, OPRGB_EXPONENT
from colormatch.standards.colorimetry import (
    SRGB_EXPONENT,
    SRGB_OFFSET,
    SRGB_SLOPE,
    SRGB_TOE_VALUE,
)

__all__ = ["InputProfile", "read_input_profile", "scanner_profile", "space_profile"]

SPACES_WRITTEN = datetime(2026, 1, 1, tzinfo=UTC)
"""Date in the profiles of the spaces: fixed, so that they are the same bytes each time."""

FREE = "No copyright, use freely."
RIGHTS = {
    "srgb": FREE,
    # Adobe keeps the name for licensees; compatibility may be stated by anyone.
    "oprgb": f"{FREE} Compatible with Adobe RGB (1998).",
}
TABLE_POINTS = 1024


def space_profile(space: RGBSpace, version: int = 4) -> bytes:
    """Give the profile of an RGB space, class ``mntr``, built from its primaries.

    Parameters
    ----------
    space : RGBSpace
        sRGB or opRGB.
    version : int, optional
        4 (ICC.1:2022), or 2 (ICC.1:2001-04) for old software.

    Returns
    -------
    bytes
        The same each time; about 600 bytes, or 2.6 kB for sRGB in version 2,
        which knows no parametric curves.
    """
    _require_version(version)
    description, rights = text_elements(space.title, RIGHTS[space.name], version)
    curve = _space_curve(space, version)
    tags = [
        (b"desc", description),
        (b"cprt", rights),
        (b"wtpt", xyz_element(D50_XYZ)),
        (b"chad", matrix_element(adaptation(D65_XYZ, D50_XYZ))),
        *_colorants(space.xyz_from_rgb),
        *((name, curve) for name in (b"rTRC", b"gTRC", b"bTRC")),
    ]
    return profile_bytes(tags, device_class=b"mntr", version=version, when=SPACES_WRITTEN)


def scanner_profile(
    curves: ArrayLike,
    xyz_from_rgb: ArrayLike,
    description: str,
    *,
    version: int = 4,
    when: datetime | None = None,
) -> bytes:
    """Give an input profile, class ``scnr``, of three curves and a matrix.

    The white of the profile is D50, the perfect diffuser: relative and absolute
    intents agree, and a strip's paper stays a little below white.

    Parameters
    ----------
    curves : array_like of shape (3, N)
        Linear light for N evenly spaced values of red, green and blue from 0
        to 1, N from 2 to 4096; values 0 to 1.
    xyz_from_rgb : array_like of shape (3, 3)
        Linear RGB to XYZ, D50, Y of the perfect diffuser 1.
    description : str
        What programs show in their list of profiles.
    version : int, optional
        4 or 2.
    when : datetime, optional
        Date of creation. Default: now.

    Raises
    ------
    ValueError
        If a shape or a range is wrong.
    """
    _require_version(version)
    tables, matrix = np.asarray(curves, np.float64), np.asarray(xyz_from_rgb, np.float64)
    if tables.ndim != 2 or len(tables) != 3:
        raise ValueError(f"curves must have shape (3, N) (got {tables.shape})")
    if matrix.shape != (3, 3) or not (np.abs(matrix) < 32767).all():
        raise ValueError("xyz_from_rgb must be a 3 x 3 matrix of finite numbers")
    text, rights = text_elements(description, FREE, version)
    names = (b"rTRC", b"gTRC", b"bTRC")
    tags = [
        (b"desc", text),
        (b"cprt", rights),
        (b"wtpt", xyz_element(D50_XYZ)),
        *_colorants(matrix),
        *((name, table_element(table)) for name, table in zip(names, tables, strict=True)),
    ]
    moment = (when or datetime.now(UTC)).astimezone(UTC)
    return profile_bytes(tags, device_class=b"scnr", version=version, when=moment)


def _require_version(version: int) -> None:
    if version not in (2, 4):
        raise ValueError(f"version must be 4 or 2 (got {version})")


def _colorants(xyz_from_rgb: ArrayLike) -> list[tuple[bytes, bytes]]:
    columns = np.asarray(xyz_from_rgb).T
    names = (b"rXYZ", b"gXYZ", b"bXYZ")
    return [(name, xyz_element(column)) for name, column in zip(names, columns, strict=True)]


def _space_curve(space: RGBSpace, version: int) -> bytes:
    if space.name == "oprgb":
        return gamma_element(OPRGB_EXPONENT)
    if version == 2:
        return table_element(space.decode(np.linspace(0, 1, TABLE_POINTS)))
    scale = 1 / (1 + SRGB_OFFSET)
    parameters = (SRGB_EXPONENT, scale, SRGB_OFFSET * scale, 1 / SRGB_SLOPE, SRGB_TOE_VALUE)
    return parametric_element(3, parameters)
