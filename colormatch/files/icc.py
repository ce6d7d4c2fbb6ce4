"""The container of an ICC profile: header, table of tags, and the types of elements.

ICC.1:2022 (version 4.4) and ICC.1:2001-04 (version 2.4): only what a profile of
three curves and a matrix needs.
"""

from __future__ import annotations

import hashlib
import struct
from collections.abc import Sequence
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike

from colormatch.standards import D50_XYZ

VERSIONS = {4: 0x04400000, 2: 0x02400000}
"""Version field of the header, ICC.1:2022, 7.2.4, and ICC.1:2001-04, 6.1.3."""

HEADER = ">I4s I 4s 4s 4s 6H 4s 4s I 4s 4s Q I 3i 4s 16s 28x"
RELATIVE_COLORIMETRIC = 1
LARGEST_TABLE = 4096
"""Points of a curve that all readers are known to take; common practice, no source."""

Tags = Sequence[tuple[bytes, bytes]]


def fixed(values: ArrayLike) -> list[int]:
    """Turn numbers into s15Fixed16 (ICC.1:2022, 4.6), rounded to nearest."""
    return [int(value) for value in np.rint(np.ravel(values) * 65536.0)]


def profile_bytes(tags: Tags, *, device_class: bytes, version: int, when: datetime) -> bytes:
    """Put a profile together: RGB on the device's side, XYZ on the other.

    Parameters
    ----------
    tags : sequence of (signature, element)
        In the order in which they are listed; equal elements are stored once.
    device_class : bytes
        ``b"mntr"`` or ``b"scnr"``.
    version : int
        4 or 2. Version 4 gets a profile ID.
    when : datetime
        Date of creation, UTC.
    """
    body, entries = b"", b""
    start = 128 + 4 + 12 * len(tags)
    places: dict[bytes, int] = {}
    for signature, element in tags:
        if element not in places:
            places[element] = start + len(body)
            body += element + bytes(-len(element) % 4)
        entries += struct.pack(">4sII", signature, places[element], len(element))
    content = struct.pack(">I", len(tags)) + entries + body
    unnamed = _header(len(content) + 128, device_class, version, when, bytes(16)) + content
    if version == 2:
        return unnamed
    # ICC.1:2022, 7.2.18: MD5 with flags, intent and the ID itself zero.
    blank = unnamed[:44] + bytes(4) + unnamed[48:64] + bytes(4) + unnamed[68:]
    name = hashlib.md5(blank, usedforsecurity=False).digest()
    return unnamed[:84] + name + unnamed[100:]


def _header(size: int, device_class: bytes, version: int, when: datetime, name: bytes) -> bytes:
    date = (when.year, when.month, when.day, when.hour, when.minute, when.second)
    return struct.pack(
        HEADER,
        size,
        bytes(4),
        VERSIONS[version],
        device_class,
        b"RGB ",
        b"XYZ ",
        *date,
        b"acsp",
        bytes(4),
        0,
        bytes(4),
        bytes(4),
        0,
        RELATIVE_COLORIMETRIC,
        *fixed(D50_XYZ),
        bytes(4),
        name,
    )


def xyz_element(xyz: ArrayLike) -> bytes:
    """Give an XYZType element of one colour."""
    return struct.pack(">4s4x3i", b"XYZ ", *fixed(xyz))


def matrix_element(matrix: ArrayLike) -> bytes:
    """Give an s15Fixed16ArrayType element, rows first."""
    values = fixed(matrix)
    return struct.pack(f">4s4x{len(values)}i", b"sf32", *values)


def parametric_element(function: int, parameters: Sequence[float]) -> bytes:
    """Give a parametricCurveType element (ICC.1:2022, 10.18; version 4 only)."""
    values = fixed(parameters)
    return struct.pack(f">4s4xH2x{len(values)}i", b"para", function, *values)


def gamma_element(exponent: float) -> bytes:
    """Give a curveType element of one exponent, to 1/256."""
    return struct.pack(">4s4xIH", b"curv", 1, round(exponent * 256))


def table_element(curve: ArrayLike) -> bytes:
    """Give a curveType element of 2 to 4096 values from 0 to 1, evenly spaced."""
    table = np.asarray(curve, np.float64)
    if not 2 <= len(table) <= LARGEST_TABLE:
        raise ValueError(f"curve must have 2 to {LARGEST_TABLE} points (got {len(table)})")
    if not ((table >= 0) & (table <= 1)).all():
        raise ValueError("curve must lie within 0 to 1")
    values = np.rint(table * 65535).astype(">u2")
    return struct.pack(">4s4xI", b"curv", len(values)) + values.tobytes()


def text_elements(description: str, rights: str, version: int) -> tuple[bytes, bytes]:
    """Give the elements of description and copyright in a version's own types."""
    if version == 4:
        return _multilingual(description), _multilingual(rights)
    ascii_rights = rights.encode("ascii", "replace")
    return _description(description), b"text" + bytes(4) + ascii_rights + b"\0"


def _multilingual(text: str) -> bytes:
    data = text.encode("utf-16-be")
    return struct.pack(">4s4xII2s2sII", b"mluc", 1, 12, b"en", b"US", len(data), 28) + data


def _description(text: str) -> bytes:
    """Give textDescriptionType (ICC.1:2001-04, 6.5.17): ASCII, then Unicode if it differs."""
    ascii_text = text.encode("ascii", "replace") + b"\0"
    wide = b"" if text.isascii() else (text + "\0").encode("utf-16-be")
    head = struct.pack(">4s4xI", b"desc", len(ascii_text)) + ascii_text
    # Language code, count of 16-bit units; then an empty ScriptCode part.
    return head + struct.pack(">4xI", len(wide) // 2) + wide + bytes(2 + 1 + 67)
