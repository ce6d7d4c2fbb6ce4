"""Scan files of the three formats, opened the same way whichever they are."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from colormatch.errors import ScanError
from colormatch.files import jpeg_reading, png_reading, tiff_reading
from colormatch.files.pixels import Pixels
from colormatch.files.upright import upright
from colormatch.model import Scan, Window

# What people put beside their scans, told by its first bytes.
OTHERS = {
    b"%PDF": "a PDF document",
    b"8BPS": "an image editor's layered file",
    b"GIF8": "a GIF picture",
    b"BM": "a BMP picture",
    b"RIFF": "a WebP picture",
    b"\0\0\0\x0cjP": "a JPEG 2000 picture",
    b"\xff\x4f\xff\x51": "a JPEG 2000 picture",
    b"PK\x03\x04": "a zip archive",
}


def open_scan(path: str | os.PathLike[str]) -> Scan:
    """Open a scan: TIFF, PNG or JPEG, told apart by the first bytes.

    Nothing is decoded yet. A TIFF is read by window, with little memory; a PNG
    or JPEG is decoded whole on the first read and kept until `Scan.close`.

    Parameters
    ----------
    path : path-like
        RGB with 8 or 16 bits per channel. TIFF: classic or Big, strips or
        tiles, chunky or planar, either byte order, uncompressed or with LZW,
        deflate, zstd, PackBits or JPEG compression.

    Returns
    -------
    Scan
        Upright. `Scan.read` raises `ScanError` where the data are damaged, and
        ValueError for a window that is empty or leaves the picture.

    Raises
    ------
    ScanError
        If there is no file, or it is no picture, is truncated, or is of a kind
        that holds no RGB integers.
    """
    path = Path(path)
    start = _first_bytes(path)
    try:
        if start.startswith(png_reading.SIGNATURE):
            stored, orientation = png_reading.open_png(path)
        elif start.startswith(jpeg_reading.SIGNATURE):
            stored, orientation = jpeg_reading.open_jpeg(path)
        elif start.startswith(tiff_reading.SIGNATURES):
            stored, orientation = tiff_reading.open_tiff(path)
        else:
            raise ScanError(_not_a_picture(path, start))
    except OSError as error:
        raise ScanError(_unreadable(path, error)) from error
    return _watched(upright(stored, orientation))


def _first_bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise ScanError(f"{path} is a folder: name the scan files in it")
        if path.exists() and not path.is_file():
            raise ScanError(f"{path} is not an ordinary file: name a scan file")
        with path.open("rb") as file:
            start = file.read(16)
    except OSError as error:
        raise ScanError(_unreadable(path, error)) from error
    if not start:
        raise ScanError(f"{path} is empty: copy or scan it again")
    return start


def _unreadable(path: Path, error: Exception) -> str:
    if isinstance(error, FileNotFoundError):
        return f"there is no file {path}: check its name and folder"
    if isinstance(error, PermissionError):
        return f"{path} may not be read: change its permissions or copy it elsewhere"
    reason = getattr(error, "strerror", None) or str(error)
    return f"{path} cannot be read ({reason.lower()}): check the name and the disk"


def _not_a_picture(path: Path, start: bytes) -> str:
    kinds = [kind for first, kind in OTHERS.items() if start.startswith(first)]
    if start[4:8] == b"ftyp":
        kinds = ["a film or a phone's picture (HEIF)"]
    what = f"is {kinds[0]}" if kinds else "is not a picture"
    return f"{path} {what}: give a scan saved as TIFF, PNG or JPEG"


def _watched(scan: Scan) -> Scan:
    """Give the scan with a `read` that refuses windows outside the picture."""

    def read(window: Window) -> Pixels:
        bottom, right = window.row + window.height, window.column + window.width
        inside = min(window.row, window.column) >= 0
        inside = inside and bottom <= scan.height and right <= scan.width
        if not inside or min(window.height, window.width) < 1:
            size = f"{scan.height} x {scan.width}"
            raise ValueError(f"window must lie in the picture, {size} (got {window})")
        return scan.read(window)

    return replace(scan, read=read)
