"""JPEG files, written strip by strip.

Each strip is coded by itself and ends on a whole byte; a restart marker between
two strips (ITU-T T.81, B.2.1 and E.1.4) tells readers that the coder starts
afresh there. The pixels are those of a picture coded in one piece.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from pathlib import Path

from colormatch.errors import OutputError
from colormatch.files.form import PictureForm
from colormatch.files.input_profiles import read_input_profile
from colormatch.files.jpeg_reading import APP0, APP1, APP2, END, ICC, START_OF_SCAN
from colormatch.files.metadata import exif_block, xmp_packet
from colormatch.files.parallel import in_order
from colormatch.files.pixels import Pixels
from colormatch.files.rows import regrouped

LONGEST_SIDE = 65500
"""Limit of the usual library; the format's own is 65535."""

UNIT = 8
"""Rows and columns of a coded block without chroma subsampling (ITU-T T.81, A.2)."""

LARGEST_INTERVAL = 65535
STRIP_ROWS = 64
SEGMENT_BYTES = 65533
PROFILE_BYTES = SEGMENT_BYTES - len(ICC) - 2
"""ICC.1:2022, B.4: what a marker segment leaves after its name, number and count."""

XMP_NAME = b"http://ns.adobe.com/xap/1.0/\0"
DEFINE_RESTART = b"\xff\xdd\x00\x04"
BASELINE = b"\xff\xc0"


def write_jpeg(path: Path, blocks: Iterable[Pixels], form: PictureForm, *, quality: int) -> None:
    """Write an 8-bit baseline JPEG without chroma subsampling (4:4:4).

    Parameters
    ----------
    path : Path
        An empty file to fill.
    blocks : iterable of ndarray of shape (rows, width, 3)
        Consecutive, from top to bottom, uint8.
    form : PictureForm
        Size, depth and labels.
    quality : int
        1 to 100, as the usual library counts it.

    Raises
    ------
    OutputError
        If a side is too long for a JPEG, or a text too long for its segment.
    ValueError
        If the blocks do not fit, or the quality is not 1 to 100.
    """
    if not 1 <= quality <= 100:
        raise ValueError(f"quality must be 1 to 100 (got {quality})")
    _require_possible(form)
    rows = _strip_rows(form.width)
    strips = regrouped(blocks, rows, form)
    interval = rows // UNIT * _units(form.width)
    labels = list(_labels(form))
    with path.open("wb") as file:
        file.write(b"\xff\xd8")
        for marker, data in labels:
            file.write(struct.pack(">BBH", 0xFF, marker, len(data) + 2) + data)
        for number, coded in enumerate(_coded(strips, quality)):
            tables, data = _split(coded)
            if number == 0:
                file.write(_with_height(tables, form.height, interval))
            else:
                file.write(bytes((0xFF, 0xD0 + (number - 1) % 8)))
            file.write(data)
        file.write(END)


def _require_possible(form: PictureForm) -> None:
    if form.bits != 8:
        raise OutputError("a JPEG holds 8 bits per channel; ask for 8 bits, or write a TIFF")
    if max(form.width, form.height) > LONGEST_SIDE:
        raise OutputError(
            f"a JPEG holds at most {LONGEST_SIDE} pixels a side, and this picture has "
            f"{form.width} x {form.height}; write a TIFF or a PNG"
        )


def _units(pixels: int) -> int:
    return -(-pixels // UNIT)


def _strip_rows(width: int) -> int:
    """Give rows per strip, so many that the restart interval can be stated."""
    return UNIT * max(1, min(STRIP_ROWS // UNIT, LARGEST_INTERVAL // _units(width)))


def _coded(strips: Iterable[Pixels], quality: int) -> Iterator[bytes]:
    import imagecodecs

    def code(strip: Pixels) -> bytes:
        return bytes(imagecodecs.jpeg8_encode(strip, quality, subsampling="444", optimize=False))

    return in_order(code, strips)


def _split(coded: bytes) -> tuple[bytes, bytes]:
    """Give the tables and headers of a coded strip, and its entropy-coded data."""
    position = 2
    kept = b""
    while True:
        marker = coded[position + 1]
        (length,) = struct.unpack_from(">H", coded, position + 2)
        segment = coded[position : position + 2 + length]
        position += 2 + length
        if marker != APP0:
            kept += segment
        if marker == START_OF_SCAN:
            return kept, coded[position : -len(END)]


def _with_height(tables: bytes, height: int, interval: int) -> bytes:
    """Put the whole picture's height, and the restart interval, into the headers."""
    at = tables.index(BASELINE)
    scan = tables.index(bytes((0xFF, START_OF_SCAN)), at)
    frame = tables[: at + 5] + struct.pack(">H", height) + tables[at + 7 : scan]
    return frame + DEFINE_RESTART + struct.pack(">H", interval) + tables[scan:]


def _labels(form: PictureForm) -> Iterator[tuple[int, bytes]]:
    profile = form.profile or b""
    exif = exif_block(form.facts, srgb=is_srgb(profile), ppi=form.ppi)
    xmp = XMP_NAME + xmp_packet(form.facts)
    longest = max(len(exif), len(xmp))
    if longest > SEGMENT_BYTES:
        raise OutputError(
            "title, creator, copyright and description are too long for a JPEG "
            f"({longest} bytes, at most {SEGMENT_BYTES}); shorten them or write a TIFF"
        )
    yield APP0, _jfif(form.ppi)
    yield APP1, exif
    yield APP1, xmp
    starts = range(0, len(profile), PROFILE_BYTES)
    for number, start in enumerate(starts, start=1):
        piece = profile[start : start + PROFILE_BYTES]
        yield APP2, ICC + bytes((number, len(starts))) + piece


def _jfif(ppi: tuple[float, float] | None) -> bytes:
    """Give JFIF 1.01 with the scale in whole pixels per inch; Exif has it exactly."""
    unit, x, y = (0, 1, 1) if ppi is None else (1, *(min(round(v), 65535) for v in ppi))
    return b"JFIF\0" + struct.pack(">BBBHHBB", 1, 1, unit, x, y, 0, 0)


def is_srgb(profile: bytes) -> bool:
    """Tell whether a profile calls itself sRGB."""
    return read_input_profile(profile).description.startswith("sRGB")
