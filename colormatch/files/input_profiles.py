"""Embedded ICC profiles read: what they say of the scanner, if it can be used.

The profiles come with files from anywhere, so nothing in them is trusted: a
damaged one is reported as unusable, with the reason, and never stops a job.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray

POINTS = 1024
"""Values of each decoded curve, evenly spaced over the encoded range."""

LONGEST_TEXT = 200
FLATTEST = 1e-4
"""Least determinant of a matrix, and least rise of a curve, that mean anything."""

# ICC.1:2022, 7.2.5 and 7.2.6.
MATRIX_CLASSES = ("scnr", "mntr", "spac")
CLASSES = {
    "prtr": "a printer",
    "link": "a fixed conversion between devices",
    "abst": "an effect",
    "nmcl": "named colours",
}
# ICC.1:2022, 10.18, table 68: parameters of each parametric function.
PARAMETERS = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}


@dataclass(frozen=True, kw_only=True, eq=False)
class InputProfile:
    """What an embedded profile says.

    Attributes
    ----------
    description : str
        Its name, "" if it has none that can be read.
    device_class : str
        ``"scnr"``, ``"mntr"`` and the like; "" if it has no header.
    matrix : ndarray of shape (3, 3), or None
        Linear RGB to XYZ, ICC D50, used as ``rgb @ matrix.T``.
    curves : ndarray of shape (3, 1024), or None
        Linear light, 0 to 1, for 1024 evenly spaced encoded values.
    usable : bool
        True if `matrix` and `curves` are there and make sense.
    reason : str
        Why not, or what is left unused; "" otherwise.
    """

    description: str = ""
    device_class: str = ""
    matrix: FloatArray | None = None
    curves: FloatArray | None = None
    usable: bool = False
    reason: str = ""


class _Unusable(Exception):  # noqa: N818 - carries a reason, reports no error
    """Says why a profile, or a part of it, cannot be used."""


def read_input_profile(data: bytes) -> InputProfile:
    """Read the curves and the matrix of an ICC profile, version 2 or 4.

    Parameters
    ----------
    data : bytes
        The profile, possibly damaged.

    Returns
    -------
    InputProfile
        Never raises: what cannot be used says so.

    References
    ----------
    ICC.1:2022, 8.3.3 (three-component matrix-based input profiles), 10.6 and
    10.18 (curves), 10.31 (XYZ); ICC.1:2001-04, 6.5.17 (description).
    """
    description = device_class = ""
    try:
        tags, device_class = _tags(data)
        description = _description(tags)
        _require_rgb_matrix(data, tags, device_class)
        curves = np.array([_curve(tags[name]) for name in ("rTRC", "gTRC", "bTRC")])
        matrix = _matrix(tags)
    except _Unusable as unusable:
        return InputProfile(
            description=description, device_class=device_class, reason=str(unusable)
        )
    return InputProfile(
        description=description,
        device_class=device_class,
        matrix=matrix,
        curves=curves,
        usable=True,
        reason="its tables are left unused" if "A2B0" in tags else "",
    )


def _name(four: bytes) -> str:
    return four.decode("latin-1").strip("\0 ")


def _tags(data: bytes) -> tuple[dict[str, bytes], str]:
    """Split a profile into its elements, by signature, and give its class."""
    if len(data) < 132 or data[36:40] != b"acsp":
        raise _Unusable("it is damaged: no profile header")
    (size,) = struct.unpack_from(">I", data)
    (count,) = struct.unpack_from(">I", data, 128)
    if size > len(data) or 132 + 12 * count > len(data):
        raise _Unusable("it is damaged: cut short")
    tags = {}
    for number in range(count):
        name, start, length = struct.unpack_from(">4sII", data, 132 + 12 * number)
        # An element outside the file is as good as missing.
        if start + length <= len(data) and length >= 8:
            tags[_name(name)] = data[start : start + length]
    return tags, _name(data[12:16])


def _require_rgb_matrix(data: bytes, tags: dict[str, bytes], device_class: str) -> None:
    if device_class not in MATRIX_CLASSES:
        kind = CLASSES.get(device_class, f"an unknown class of device ({device_class!r})")
        raise _Unusable(f"it is made for {kind}, not for a scanner")
    if data[16:20] != b"RGB ":
        raise _Unusable(f"it is made for {_name(data[16:20])}, not for RGB")
    wanted = ("rTRC", "gTRC", "bTRC", "rXYZ", "gXYZ", "bXYZ")
    missing = [name for name in wanted if name not in tags]
    if missing and "A2B0" in tags:
        raise _Unusable("it works by tables alone, without curves and a matrix")
    if missing:
        raise _Unusable(f"it is damaged: no {missing[0]}")
    if data[20:24] != b"XYZ ":
        raise _Unusable("it is damaged: a matrix needs XYZ as its other side")


def _matrix(tags: dict[str, bytes]) -> FloatArray:
    columns = []
    for name in ("rXYZ", "gXYZ", "bXYZ"):
        element = tags[name]
        if element[:4] != b"XYZ " or len(element) < 20:
            raise _Unusable(f"it is damaged: {name} holds no colour")
        columns.append(np.array(struct.unpack_from(">3i", element, 8)) / 65536)
    matrix = np.array(columns).T
    if abs(np.linalg.det(matrix)) < FLATTEST or matrix[1].sum() < FLATTEST:
        raise _Unusable("its matrix makes no sense")
    return matrix


def _curve(element: bytes) -> FloatArray:
    """Decode a curve to `POINTS` values of linear light."""
    x = np.linspace(0, 1, POINTS)
    with np.errstate(all="ignore"):
        match element[:4]:
            case b"curv":
                y = _sampled(element, x)
            case b"para":
                y = _parametric(element, x)
            case kind:
                raise _Unusable(f"its curves are of an unknown kind ({_name(kind)!r})")
    if not np.isfinite(y).all():
        raise _Unusable("its curves make no sense")
    y = np.clip(y, 0, 1)
    if (np.diff(y) < 0).any() or y[-1] - y[0] < FLATTEST:
        raise _Unusable("its curves do not rise")
    return y


def _sampled(element: bytes, x: FloatArray) -> FloatArray:
    """Decode curveType: nothing, one exponent, or a table."""
    if len(element) < 12:
        raise _Unusable("it is damaged: a curve is cut short")
    (count,) = struct.unpack_from(">I", element, 8)
    if 12 + 2 * count > len(element):
        raise _Unusable("it is damaged: a curve is cut short")
    values: NDArray[np.float64] = np.frombuffer(element, ">u2", count, 12).astype(np.float64)
    if count == 0:
        return x
    if count == 1:
        return np.asarray(x ** (values[0] / 256))
    return np.interp(x, np.linspace(0, 1, count), values / 65535)


def _parametric(element: bytes, x: FloatArray) -> FloatArray:
    """Decode parametricCurveType, functions 0 to 4."""
    function = struct.unpack_from(">H", element, 8)[0] if len(element) >= 12 else -1
    count = PARAMETERS.get(function)
    if count is None or len(element) < 12 + 4 * count:
        raise _Unusable("it is damaged: a curve is cut short")
    given = np.zeros(7)
    given[:count] = np.array(struct.unpack_from(f">{count}i", element, 12)) / 65536
    g, a, b, c, d, e, f = given
    if function == 0:
        return np.asarray(x**g)
    power = np.maximum(a * x + b, 0) ** g
    if function < 3:
        # c lifts function 2 as a whole; function 1 has none, and c is 0.
        return np.asarray(np.where(x >= -b / a, power, 0) + c)
    return np.asarray(np.where(x >= d, power + e, c * x + f))


def _description(tags: dict[str, bytes]) -> str:
    """Give the profile's name on one line, as far as it can be read."""
    element = tags.get("desc", b"")
    text = ""
    if element[:4] == b"desc" and len(element) > 12:
        (count,) = struct.unpack_from(">I", element, 8)
        text = element[12 : 12 + count].partition(b"\0")[0].decode("latin-1")
    elif element[:4] == b"mluc" and len(element) >= 28:
        length, start = struct.unpack_from(">II", element, 20)
        text = element[start : start + length].decode("utf-16-be", "replace")
    elif element[:4] == b"text":
        text = element[8:].partition(b"\0")[0].decode("latin-1")
    printable = "".join(mark if mark.isprintable() else " " for mark in text)
    return " ".join(printable.split())[:LONGEST_TEXT]
