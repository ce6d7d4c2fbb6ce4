"""RGB spaces built from their primaries, chromatic adaptation, and CIELAB."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from colormatch.colour.transfer import (
    as_floating,
    decode_oprgb,
    decode_srgb,
    encode_oprgb,
    encode_srgb,
)
from colormatch.errors import InputError
from colormatch.model import FloatArray
from colormatch.standards.colorimetry import (
    BRADFORD,
    CIELAB_EPSILON,
    CIELAB_KAPPA,
    D50_XYZ,
    D65_XYZ,
    OPRGB_PRIMARIES,
    SRGB_PRIMARIES,
    xyz_from_xy,
)

Curve = Callable[[ArrayLike], FloatArray]


@dataclass(frozen=True, kw_only=True, eq=False)
class RGBSpace:
    """An RGB space for pictures.

    Attributes
    ----------
    name : str
        ``"srgb"`` or ``"oprgb"``.
    title : str
        What a person or a profile's description calls it.
    primaries : tuple
        xy chromaticities of red, green and blue.
    encode, decode : callable
        Linear light to encoded value, and back; see `colormatch.colour.transfer`.
    xyz_from_rgb, rgb_from_xyz : ndarray of shape (3, 3)
        Linear RGB to XYZ adapted to the ICC D50, and back, float64, read-only;
        used as ``rgb @ xyz_from_rgb.T``.
    """

    name: str
    title: str
    primaries: tuple[tuple[float, float], ...]
    encode: Curve
    decode: Curve
    xyz_from_rgb: FloatArray
    rgb_from_xyz: FloatArray


def adaptation(from_white: ArrayLike, to_white: ArrayLike) -> FloatArray:
    """Give the linearised Bradford transform between two white points.

    Parameters
    ----------
    from_white, to_white : array_like of shape (3,)
        XYZ of the whites, in one common scale, all above 0.

    Returns
    -------
    ndarray of shape (3, 3)
        Used as ``xyz @ matrix.T``; carries ``from_white`` to ``to_white`` exactly.

    References
    ----------
    ICC.1:2022, annex E.
    """
    cone = np.array(BRADFORD)
    gain = (cone @ np.asarray(to_white, float)) / (cone @ np.asarray(from_white, float))
    matrix: FloatArray = np.linalg.solve(cone, gain[:, None] * cone)
    return matrix


def _xyz_from_primaries(primaries: tuple[tuple[float, float], ...]) -> FloatArray:
    """Give linear RGB with D65 white to XYZ adapted to the ICC D50."""
    columns = np.array([xyz_from_xy(xy) for xy in primaries]).T
    scaled = columns * np.linalg.solve(columns, np.array(D65_XYZ))
    matrix: FloatArray = adaptation(D65_XYZ, D50_XYZ) @ scaled
    return matrix


def _space(
    name: str,
    title: str,
    primaries: tuple[tuple[float, float], ...],
    curves: tuple[Curve, Curve],
) -> RGBSpace:
    """Build a space; the matrices are computed here and made read-only."""
    forward = _xyz_from_primaries(primaries)
    backward = np.linalg.inv(forward)
    forward.flags.writeable = backward.flags.writeable = False
    return RGBSpace(
        name=name,
        title=title,
        primaries=primaries,
        encode=curves[0],
        decode=curves[1],
        xyz_from_rgb=forward,
        rgb_from_xyz=backward,
    )


@cache
def rgb_space(name: str) -> RGBSpace:
    """Give the RGB space called ``name``.

    Parameters
    ----------
    name : str
        ``"srgb"`` (IEC 61966-2-1) or ``"oprgb"`` (IEC 61966-2-5, compatible
        with Adobe RGB (1998)).

    Raises
    ------
    InputError
        If there is no such space.
    """
    match name:
        case "srgb":
            title = "sRGB (IEC 61966-2-1)"
            return _space(name, title, SRGB_PRIMARIES, (encode_srgb, decode_srgb))
        case "oprgb":
            title = "opRGB (IEC 61966-2-5)"
            return _space(name, title, OPRGB_PRIMARIES, (encode_oprgb, decode_oprgb))
    raise InputError(f"unknown colour space {name!r}: choose srgb or oprgb")


def lab_from_xyz(xyz: ArrayLike) -> FloatArray:
    """Turn XYZ into CIELAB for the ICC D50 white.

    Parameters
    ----------
    xyz : array_like of shape (..., 3)
        Y of the perfect diffuser 1; values below 0 follow the line of the
        darkest tones, so that the result is always finite.

    Returns
    -------
    ndarray of shape (..., 3)
        L*, a*, b*.

    References
    ----------
    ISO/CIE 11664-4.
    """
    xyz = as_floating(xyz)
    ratio = xyz / np.array(D50_XYZ, xyz.dtype)
    f: FloatArray = np.cbrt(ratio)
    dark = ~(ratio > CIELAB_EPSILON)
    if dark.any():
        np.copyto(f, (CIELAB_KAPPA * ratio + 16) / 116, where=dark)
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    lab = np.empty_like(f)
    lab[..., 0] = 116 * fy - 16
    lab[..., 1] = 500 * (fx - fy)
    lab[..., 2] = 200 * (fy - fz)
    return lab


def xyz_from_lab(lab: ArrayLike) -> FloatArray:
    """Turn CIELAB for the ICC D50 white into XYZ: the inverse of `lab_from_xyz`.

    Parameters
    ----------
    lab : array_like of shape (..., 3)
        L*, a*, b*.

    Returns
    -------
    ndarray of shape (..., 3)
        XYZ, Y of the perfect diffuser 1.

    References
    ----------
    ISO/CIE 11664-4.
    """
    lab = as_floating(lab)
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    line = (116 * f - 16) / CIELAB_KAPPA
    cube = f * f * f
    return np.where(cube > CIELAB_EPSILON, cube, line) * np.array(D50_XYZ, lab.dtype)
