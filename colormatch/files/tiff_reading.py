"""TIFF files: what is accepted, and why the rest is refused."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import get_ident
from typing import Any

from colormatch.errors import ScanError
from colormatch.files.device import MAKE, MODEL, device_name
from colormatch.files.pixels import Pixels
from colormatch.files.resolution import PER_INCH, resolution
from colormatch.files.tiff_segments import Segments
from colormatch.model import Scan, Window

SIGNATURES = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")

# TIFF 6.0, tag 262, with the values later added for raw pictures.
REFUSED_PHOTOMETRIC = {
    0: "grey",
    1: "grey",
    3: "a palette picture",
    4: "a mask",
    5: "CMYK",
    6: "stored as luma and chroma (YCbCr)",
    8: "stored as CIELAB",
    9: "stored as CIELAB",
    10: "stored as CIELAB",
    32803: "a raw sensor picture",
    34892: "a raw sensor picture",
}
RGB, YCBCR = 2, 6
JPEG = 7
COMPRESSIONS = {
    1: "none",
    5: "LZW",
    7: "JPEG",
    8: "deflate",
    32773: "PackBits",
    32946: "deflate",
    50000: "zstd",
}
REDUCED = 1  # TIFF 6.0, tag 254, bit 0: a smaller version of another page
UINT, UNDEFINED = 1, 4  # TIFF 6.0, tag 339
NUMBERS = {2: "signed ", 3: "floating point "}


def open_tiff(path: Path) -> tuple[Scan, int]:
    """Open the first full page of a TIFF, its pixels read by window.

    Returns
    -------
    scan : Scan
        As stored.
    orientation : int
        Value of tag 274, 1 if absent.

    Raises
    ------
    ScanError
        If the file is truncated, damaged, or not RGB with 8 or 16 bits.
    """
    import tifffile

    # Tags are fetched from the file when asked for: all of them while it is open.
    with refusing_damage(path) as oddities, tifffile.TiffFile(path) as file:
        page, notes = _first_page(path, file)
        _refuse_unusable(path, page)
        ppi, ppi_notes = _ppi(page)
        notes += _channel_notes(page)
        segments = Segments(path, page)
        orientation = int(page.tags.valueof(274, 1))
        profile = page.tags.valueof(34675)
        device = device_name(page.tags.valueof(MAKE), page.tags.valueof(MODEL))
    if oddities:
        notes.append(f"its structure is odd: {oddities[0]}")

    def read(window: Window) -> Pixels:
        with refusing_damage(path):
            return segments.read(window)

    scan = Scan(
        path=path,
        width=int(page.imagewidth),
        height=int(page.imagelength),
        bits=int(page.bitspersample),
        ppi=ppi,
        profile=bytes(profile) if profile else None,
        format="tiff",
        device=device,
        notes=(*notes, *ppi_notes),
        read=read,
        close=segments.close,
        direct=segments.raw,
    )
    return scan, orientation


@contextmanager
def refusing_damage(path: Path) -> Iterator[list[str]]:
    """Turn whatever the library says about a damaged file into one `ScanError`.

    Yields
    ------
    list of str
        Collects what the library would have logged from this thread.
    """
    said: list[str] = []
    thread = get_ident()

    def collect(record: logging.LogRecord) -> bool:
        if record.thread != thread:
            return True
        said.append(re.sub(r"<[^>]*>|\s+", " ", record.getMessage()).strip())
        return False

    logger = logging.getLogger("tifffile")
    logger.addFilter(collect)
    try:
        yield said
    except ScanError:
        raise
    except Exception as error:
        reason = re.sub(r"\s+", " ", str(error)).strip() or type(error).__name__
        raise ScanError(f"{path} is damaged ({reason}): copy or scan it again") from error
    finally:
        logger.removeFilter(collect)


def _first_page(path: Path, file: Any) -> tuple[Any, list[str]]:
    """Give the first page that is not a thumbnail, and notes on the others."""
    pages = [file.pages[number] for number in range(len(file.pages))]
    if not pages:
        raise ScanError(f"{path} is damaged: it has no page; copy or scan it again")
    full = [page for page in pages if not _is_reduced(page)] or pages
    notes = []
    if full[0] is not pages[0]:
        notes.append("its first page, a thumbnail, is skipped")
    if len(full) > 1:
        notes.append(f"it has {len(full)} pages, of which the first is used")
    return full[0], notes


def _is_reduced(page: Any) -> bool:
    return bool(int(page.tags.valueof(254, 0)) & REDUCED)


def _refuse_unusable(path: Path, page: Any) -> None:
    photometric, compression = int(page.photometric), int(page.compression)
    luma = photometric == YCBCR and compression == JPEG
    if photometric != RGB and not luma:
        kind = REFUSED_PHOTOMETRIC.get(photometric, f"of an unknown kind ({photometric})")
        raise ScanError(f"{path} is {kind}: scan it again, or export it, in colour (RGB)")
    if page.samplesperpixel < 3 or page.imagedepth != 1:
        raise ScanError(f"{path} is damaged: it has no three colour channels; scan it again")
    if page.sampleformat not in (UINT, UNDEFINED) or page.bitspersample not in (8, 16):
        kind = NUMBERS.get(int(page.sampleformat), "") + f"{page.bitspersample}-bit"
        raise ScanError(f"{path} has {kind} channels: scan it again with 8 or 16 bits per channel")
    if compression not in COMPRESSIONS:
        name = getattr(page.compression, "name", str(compression))
        raise ScanError(
            f"{path} is compressed in a way that is not read ({name}): "
            "save it again without compression, or with LZW or deflate"
        )


def _ppi(page: Any) -> tuple[tuple[float, float] | None, tuple[str, ...]]:
    try:
        x, y = (_ratio(page.tags.valueof(tag)) for tag in (282, 283))
        unit = int(page.tags.valueof(296, 2))
    except (TypeError, ValueError, ZeroDivisionError):
        return None, ()
    return resolution(x, y, PER_INCH.get(unit))


def _ratio(value: tuple[int, int]) -> float:
    numerator, denominator = value
    return numerator / denominator


def _channel_notes(page: Any) -> list[str]:
    extra = page.samplesperpixel - 3
    if not extra:
        return []
    kinds = [int(kind) for kind in page.extrasamples]
    if extra == 1 and kinds == [1]:
        return ["its alpha channel is dropped; see-through places are as dark as stored"]
    if extra == 1:
        return ["its alpha channel is dropped"]
    return [f"its {extra} channels beyond red, green and blue are dropped"]
