"""PNG files: the chunks before the pixels, and the pixels with all their bits.

Chunks are read here rather than by an imaging library because the ones at hand
drop the profile, the scale or half of a 16-bit pixel without a word.
"""

from __future__ import annotations

import mmap
import struct
import zlib
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np

from colormatch.errors import ScanError
from colormatch.files.decoded import DecodedWhole
from colormatch.files.exif import exif_facts
from colormatch.files.pixels import Pixels
from colormatch.files.resolution import resolution
from colormatch.model import Scan

SIGNATURE = b"\x89PNG\r\n\x1a\n"
INCH_PER_METRE = 0.0254
LARGEST_PROFILE = 64 << 20
KEPT_CHUNKS = (b"IHDR", b"iCCP", b"pHYs", b"eXIf", b"tRNS", b"sRGB", b"gAMA", b"cICP")
COLOUR_CHUNKS = (b"cICP", b"sRGB", b"gAMA")
PIXEL_CHUNKS = (b"IHDR", b"IDAT", b"IEND")
SKIPPED_CHUNK = b"skIp"  # by its case private and dispensable: W3C PNG, 5.4
# W3C PNG, third edition, 11.2.1: colour types without three colour channels.
REFUSED = {0: "grey", 3: "a palette picture", 4: "grey with alpha"}


def open_png(path: Path) -> tuple[Scan, int]:
    """Open a PNG; the pixels are decoded on the first read and kept until closed.

    Returns
    -------
    scan : Scan
        As stored.
    orientation : int
        From the eXIf chunk, 1 if it has none.

    Raises
    ------
    ScanError
        If the file is truncated or not RGB with 8 or 16 bits.
    """
    chunks = _chunks(path)
    width, height, bits, alpha = _header(path, chunks.get(b"IHDR", b""))
    exif = exif_facts(chunks.get(b"eXIf"))
    ppi, ppi_notes = _ppi(chunks.get(b"pHYs"))
    notes = ["its alpha channel is dropped"] if alpha else []
    if b"tRNS" in chunks:
        notes.append("its transparent colour is taken as any other")
    profile, profile_notes = _profile(chunks)
    pixels = DecodedWhole(lambda: _decode(path, (height, width), bits))
    scan = Scan(
        path=path,
        width=width,
        height=height,
        bits=bits,
        ppi=ppi or exif.ppi,
        profile=profile,
        format="png",
        device=exif.device,
        notes=(*notes, *profile_notes, *ppi_notes),
        read=pixels.read,
        close=pixels.close,
    )
    return scan, exif.orientation


def _chunks(path: Path) -> dict[bytes, bytes]:
    """Give the chunks that matter, having seen that the file has an end."""
    found: dict[bytes, bytes] = {}
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        for kind, start, length in _walk(data):
            if kind in KEPT_CHUNKS and kind not in found:
                found[kind] = data[start : start + length]
            if kind == b"IEND":
                return found
    raise ScanError(f"{path} is cut short: its end is missing; copy or scan it again")


def _walk(data: mmap.mmap) -> Iterator[tuple[bytes, int, int]]:
    """Yield kind, start and length of each chunk that lies in the file whole."""
    position = len(SIGNATURE)
    while position + 12 <= len(data):
        length, kind = struct.unpack_from(">I4s", data, position)
        if position + 12 + length > len(data):
            return
        yield kind, position + 8, length
        position += 12 + length


def _header(path: Path, header: bytes) -> tuple[int, int, int, bool]:
    if len(header) != 13:
        raise ScanError(f"{path} is damaged: its header is missing; copy or scan it again")
    width, height, bits, colour = struct.unpack(">IIBB", header[:10])
    if colour in REFUSED:
        raise ScanError(f"{path} is {REFUSED[colour]}: scan it again in colour (RGB)")
    if colour not in (2, 6) or bits not in (8, 16) or not width or not height:
        raise ScanError(f"{path} is damaged: its header makes no sense; copy or scan it again")
    return width, height, bits, colour == 6


def _ppi(chunk: bytes | None) -> tuple[tuple[float, float] | None, tuple[str, ...]]:
    if chunk is None or len(chunk) != 9:
        return None, ()
    x, y, unit = struct.unpack(">IIB", chunk)
    return resolution(x * INCH_PER_METRE, y * INCH_PER_METRE, 1.0 if unit == 1 else None)


def _profile(chunks: dict[bytes, bytes]) -> tuple[bytes | None, list[str]]:
    """Unpack iCCP: name, NUL, method 0, zlib data (W3C PNG, 11.3.2.3)."""
    notes = [
        f"its {kind.decode()} chunk, which names a colour encoding, is not used"
        for kind in COLOUR_CHUNKS
        if kind in chunks
    ]
    if b"iCCP" not in chunks:
        return None, notes
    _, _, packed = chunks[b"iCCP"].partition(b"\0")
    with suppress(zlib.error):
        unpacker = zlib.decompressobj()
        profile = unpacker.decompress(packed[1:], LARGEST_PROFILE)
        if packed[:1] == b"\0" and unpacker.eof:
            return profile, notes
    return None, [*notes, "its embedded profile is damaged and is not used"]


def _pixels_only(path: Path) -> Any:
    """Map the file with every chunk but the pixels' own made one to be skipped.

    The decoder prints warnings about profiles and the like past Python, and turns
    a transparent colour into a fourth channel. Mapped, not read: the file of a
    16-bit picture is as large as the picture; the changes stay in memory.
    """
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        masked = [
            (start, length) for kind, start, length in _walk(data) if kind not in PIXEL_CHUNKS
        ]
    mapped: Any = np.memmap(path, np.uint8, "c")
    for start, length in masked:
        mapped[start - 4 : start] = bytearray(SKIPPED_CHUNK)
        crc = zlib.crc32(mapped[start - 4 : start + length])
        mapped[start + length : start + length + 4] = bytearray(crc.to_bytes(4, "big"))
    return mapped


def _decode(path: Path, size: tuple[int, int], bits: int) -> Pixels:
    import imagecodecs

    try:
        pixels: Pixels = imagecodecs.png_decode(_pixels_only(path))
    except (imagecodecs.PngError, OSError, ValueError, MemoryError) as error:
        raise ScanError(f"{path} is damaged ({error}): copy or scan it again") from error
    if pixels.dtype != f"u{bits // 8}" or pixels.shape[:2] != size or pixels.shape[2:] < (3,):
        raise ScanError(f"{path} is damaged: its pixels do not fit its header; scan it again")
    return pixels
