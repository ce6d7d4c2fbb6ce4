"""JPEG files: the segments before the pixels, and the pixels.

A file that ends early is refused. Damage in the middle of the pixels is found
where the decoder cannot go on; where it can, it goes on with wrong blocks and
tells nobody, and so does this reader.
"""

from __future__ import annotations

import mmap
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from colormatch.errors import ScanError
from colormatch.files.decoded import DecodedWhole
from colormatch.files.exif import exif_facts
from colormatch.files.pixels import Pixels
from colormatch.files.resolution import PER_INCH, resolution
from colormatch.model import Scan

SIGNATURE = b"\xff\xd8\xff"
END = b"\xff\xd9"
START_OF_SCAN = 0xDA
# ITU-T T.81, table B.1: baseline, extended sequential and progressive Huffman.
FRAMES = (0xC0, 0xC1, 0xC2)
OTHER_FRAMES = (0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF)
APP0, APP1, APP2 = 0xE0, 0xE1, 0xE2
JFIF, EXIF, ICC = b"JFIF\0", b"Exif\0\0", b"ICC_PROFILE\0"
STANDALONE = (0x01, *range(0xD0, 0xD9))
# JFIF 1.02: density units 1 inch, 2 centimetre.
JFIF_PER_INCH = {1: PER_INCH[2], 2: PER_INCH[3]}


@dataclass(kw_only=True)
class _Segments:
    """What the segments before the pixels hold."""

    frame: tuple[int, bytes] | None = None
    jfif: bytes | None = None
    exif: bytes | None = None
    icc: dict[int, bytes] = field(default_factory=dict)
    icc_count: int = 0


def open_jpeg(path: Path) -> tuple[Scan, int]:
    """Open a JPEG; the pixels are decoded on the first read and kept until closed.

    Returns
    -------
    scan : Scan
        As stored.
    orientation : int
        From the Exif block, 1 if it has none.

    Raises
    ------
    ScanError
        If the file is truncated or not a colour picture with 8 bits.
    """
    segments = _read_segments(path)
    width, height = _size(path, segments.frame)
    exif = exif_facts(segments.exif)
    ppi, notes = _ppi(segments.jfif)
    profile, profile_notes = _profile(segments)
    pixels = DecodedWhole(lambda: _decode(path, (height, width, 3)))
    scan = Scan(
        path=path,
        width=width,
        height=height,
        bits=8,
        ppi=ppi or exif.ppi,
        profile=profile,
        format="jpeg",
        device=exif.device,
        notes=(*notes, *profile_notes),
        read=pixels.read,
        close=pixels.close,
    )
    return scan, exif.orientation


def _read_segments(path: Path) -> _Segments:
    """Collect the segments, having seen that the file has an end."""
    found = _Segments()
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        for marker, start, length in _walk(data):
            if marker == START_OF_SCAN:
                # A decoder fills what is missing with grey and says nothing.
                if data.rfind(END, start + length) >= 0:
                    return found
                break
            _keep(found, marker, data[start : start + length])
    raise ScanError(f"{path} is cut short: its end is missing; copy or scan it again")


def _walk(data: mmap.mmap) -> Iterator[tuple[int, int, int]]:
    """Yield marker, start and length of each segment that lies in the file whole."""
    position = 2
    while position + 4 <= len(data):
        if data[position] != 0xFF:
            return
        marker = data[position + 1]
        if marker == 0xFF:  # fill byte
            position += 1
        elif marker in STANDALONE:
            position += 2
        else:
            (length,) = struct.unpack_from(">H", data, position + 2)
            if length < 2 or position + 2 + length > len(data):
                return
            yield marker, position + 4, length - 2
            position += 2 + length


def _keep(found: _Segments, marker: int, data: bytes) -> None:
    if marker in FRAMES or marker in OTHER_FRAMES:
        found.frame = marker, data
    elif marker == APP0 and data.startswith(JFIF):
        found.jfif = found.jfif or data
    elif marker == APP1 and data.startswith(EXIF):
        found.exif = found.exif or data
    elif marker == APP2 and data.startswith(ICC) and len(data) > 14:
        found.icc[data[12]] = data[14:]
        found.icc_count = data[13]


def _size(path: Path, frame: tuple[int, bytes] | None) -> tuple[int, int]:
    """Give width and height from the frame header (ITU-T T.81, B.2.2)."""
    if frame is None or len(frame[1]) < 6:
        raise ScanError(f"{path} is damaged: its header is missing; copy or scan it again")
    marker, header = frame
    bits, height, width, channels = struct.unpack(">BHHB", header[:6])
    if channels == 1:
        raise ScanError(f"{path} is grey: scan it again in colour (RGB)")
    if channels == 4:
        raise ScanError(f"{path} is CMYK: scan it again, or export it, in RGB")
    if bits != 8 or marker not in FRAMES:
        raise ScanError(
            f"{path} is a rare kind of JPEG (lossless, arithmetic or {bits}-bit): "
            "scan it again, best to TIFF"
        )
    if channels != 3 or not width or not height:
        raise ScanError(f"{path} is damaged: its header makes no sense; copy or scan it again")
    return width, height


def _ppi(jfif: bytes | None) -> tuple[tuple[float, float] | None, tuple[str, ...]]:
    if jfif is None or len(jfif) < 12:
        return None, ()
    unit, x, y = struct.unpack(">BHH", jfif[7:12])
    return resolution(x, y, JFIF_PER_INCH.get(unit))


def _profile(segments: _Segments) -> tuple[bytes | None, tuple[str, ...]]:
    """Join the pieces of the profile (ICC.1:2022, B.4): numbered from 1."""
    if not segments.icc:
        return None, ()
    if sorted(segments.icc) != list(range(1, segments.icc_count + 1)):
        return None, ("its embedded profile is damaged and is not used",)
    return b"".join(segments.icc[number] for number in sorted(segments.icc)), ()


def _decode(path: Path, shape: tuple[int, int, int]) -> Pixels:
    import imagecodecs

    try:
        mapped: Any = np.memmap(path, np.uint8, "r")
        pixels: Pixels = imagecodecs.jpeg8_decode(mapped)
    except (imagecodecs.Jpeg8Error, OSError, ValueError, MemoryError) as error:
        raise ScanError(f"{path} is damaged ({error}): copy or scan it again") from error
    if pixels.dtype != np.uint8 or pixels.shape != shape:
        raise ScanError(f"{path} is damaged: its pixels do not fit its header; scan it again")
    return pixels
