"""TIFF files, written strip by strip."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from colormatch.errors import OutputError
from colormatch.files.form import PictureForm
from colormatch.files.metadata import PictureFacts, tiff_fields, xmp_packet
from colormatch.files.parallel import in_order
from colormatch.files.pixels import Pixels
from colormatch.files.rows import regrouped

ROWS = 64
"""Rows per strip: 3.8 MB for a 16-bit row of 10,000 pixels, small enough to fetch one."""

CLASSIC_LIMIT = 2**32 - 2**24
"""Bytes that 32-bit offsets reach (TIFF 6.0, section 2), with room for tags."""

GROWTH = {"none": 1.0, "deflate": 1.001, "lzw": 1.5}
"""How much larger than raw a strip of noise can become at most: deflate stores it
in blocks of 64 kB with 5 bytes of head; LZW has codes of up to 12 bits for 8."""

TAG_TYPE_BYTE, TAG_TYPE_ASCII = 1, 2
XMP, ARTIST, COPYRIGHT = 700, 315, 33432


def write_tiff(
    path: Path, blocks: Iterable[Pixels], form: PictureForm, *, compression: str
) -> None:
    """Write an RGB TIFF; BigTIFF only where 4 GB might not do.

    Parameters
    ----------
    path : Path
        An empty file to fill.
    blocks : iterable of ndarray of shape (rows, width, 3)
        Consecutive, from top to bottom.
    form : PictureForm
        Size, depth and labels.
    compression : str
        ``"none"``, ``"deflate"`` (with the horizontal predictor, fast level) or
        ``"lzw"`` (the same, 8 bit only).

    Raises
    ------
    OutputError
        If LZW is asked for 16 bits.
    ValueError
        If the compression is unknown, or the blocks do not fit.
    """
    import tifffile

    if compression not in GROWTH:
        raise ValueError(f"compression must be one of {tuple(GROWTH)} (got {compression!r})")
    if compression == "lzw" and form.bits == 16:
        raise OutputError(
            "LZW makes 16-bit scans larger, not smaller; "
            "choose deflate or no compression, or 8 bits"
        )
    strips = regrouped(blocks, ROWS, form)
    large = needs_bigtiff(form, compression)
    with tifffile.TiffWriter(path, bigtiff=large) as writer:
        writer.write(
            encoded(strips, compression),
            shape=(form.height, form.width, 3),
            dtype=f"u{form.bits // 8}",
            photometric="rgb",
            rowsperstrip=ROWS,
            metadata=None,
            iccprofile=form.profile,
            **_codec(compression),
            **_resolution(form.ppi),
            **_texts(form.facts),
        )


def needs_bigtiff(form: PictureForm, compression: str) -> bool:
    """Tell whether the file might pass the 4 GB of a classic TIFF."""
    size = form.width * form.height * 3 * (form.bits // 8)
    return size * GROWTH[compression] > CLASSIC_LIMIT


def _codec(compression: str) -> dict[str, Any]:
    if compression == "none":
        return {}
    return {"compression": compression, "predictor": True}


def _resolution(ppi: tuple[float, float] | None) -> dict[str, Any]:
    return {} if ppi is None else {"resolution": ppi, "resolutionunit": "inch"}


def _texts(facts: PictureFacts) -> dict[str, Any]:
    fields = tiff_fields(facts)
    xmp = xmp_packet(facts)
    tags = [(XMP, TAG_TYPE_BYTE, len(xmp), xmp, True)]
    tags += [
        (tag, TAG_TYPE_ASCII, len(fields[tag]) + 1, fields[tag] + b"\0", True)
        for tag in (ARTIST, COPYRIGHT)
        if tag in fields
    ]
    return {
        "description": fields.get(270),
        "software": fields[305],
        "datetime": fields[306].decode(),
        "extratags": tags,
    }


def encoded(strips: Iterable[Pixels], compression: str) -> Iterator[bytes]:
    """Give the strips as the file holds them, coded by two threads."""
    import imagecodecs

    def code(strip: Pixels) -> bytes:
        if compression == "none":
            return strip.tobytes()
        # Predictor 2 of TIFF 6.0, section 14: differences to the left neighbour.
        differences: Any = imagecodecs.delta_encode(strip, axis=-2)
        if compression == "lzw":
            return bytes(imagecodecs.lzw_encode(differences.tobytes()))
        return bytes(imagecodecs.deflate_encode(differences, 1))

    return in_order(code, strips)
