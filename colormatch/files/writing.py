"""Pictures written block by block, whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from colormatch.errors import OutputError
from colormatch.files.form import PictureForm
from colormatch.files.jpeg_writing import write_jpeg
from colormatch.files.metadata import PictureFacts
from colormatch.files.pixels import Pixels
from colormatch.files.png_writing import write_png
from colormatch.files.tiff_writing import write_tiff
from colormatch.files.whole import written_whole
from colormatch.model import Progress, silent

FORMATS = ("tiff", "png", "jpeg")
NO_FACTS = PictureFacts()


def write_picture(
    path: str | os.PathLike[str],
    blocks: Iterable[Pixels],
    *,
    width: int,
    height: int,
    bits: int = 16,
    format: str = "tiff",  # noqa: A002 - the user's word, as in Scan.format
    profile: bytes | None = None,
    ppi: tuple[float, float] | None = None,
    facts: PictureFacts = NO_FACTS,
    compression: str = "deflate",
    quality: int = 95,
    force: bool = False,
    progress: Progress = silent,
) -> None:
    """Write an RGB picture from blocks of rows, in bounded memory.

    Parameters
    ----------
    path : path-like
        The file; whatever its suffix, ``format`` decides.
    blocks : iterable of ndarray of shape (rows, width, 3)
        Encoded values, from top to bottom, of any heights that add up to
        ``height``; uint8 or uint16 as ``bits`` says.
    width, height : int
        Pixels.
    bits : int, optional
        8 or 16 per channel.
    format : str, optional
        ``"tiff"``, ``"png"`` or ``"jpeg"``.
    profile : bytes, optional
        ICC profile to embed.
    ppi : tuple of float, optional
        Pixels per inch across and down. PNG keeps whole pixels per metre: 600
        reads back as 599.9988.
    facts : PictureFacts, optional
        Title, creator and the like.
    compression : str, optional
        Of TIFF: ``"deflate"``, ``"none"``, or ``"lzw"`` (8 bit only). The other
        two formats have their own.
    quality : int, optional
        Of JPEG, 1 to 100.
    force : bool, optional
        Replace a file that is already there.
    progress : Progress, optional
        Told after each block.

    Raises
    ------
    OutputError
        If the file is there already, the disk refuses it, or the format cannot
        hold the picture; nothing is left behind.
    ValueError
        If the arguments or the blocks do not fit together.
    """
    if format not in FORMATS:
        raise ValueError(f"format must be one of {FORMATS} (got {format!r})")
    form = PictureForm(width=width, height=height, bits=bits, profile=profile, ppi=ppi, facts=facts)
    target = Path(path)
    counted = _counted(blocks, height, target.name, progress)
    with written_whole(target, force=force) as temporary:
        try:
            _write(temporary, counted, form, format, compression, quality)
        except OutputError as error:
            raise OutputError(f"cannot write {target}: {error}") from error


def _write(
    path: Path,
    blocks: Iterable[Pixels],
    form: PictureForm,
    kind: str,
    compression: str,
    quality: int,
) -> None:
    match kind:
        case "tiff":
            write_tiff(path, blocks, form, compression=compression)
        case "png":
            write_png(path, blocks, form)
        case "jpeg":
            write_jpeg(path, blocks, form, quality=quality)


def _counted(
    blocks: Iterable[Pixels], height: int, label: str, progress: Progress
) -> Iterator[Pixels]:
    done = 0
    for block in blocks:
        yield block
        done += len(block)
        progress(f"writing {label}", done / height)
