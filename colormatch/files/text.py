"""Text files as they come: byte order marks, UTF-16, Latin-1, any line ending."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from pathlib import Path

from colormatch.errors import ReferenceFileError

MAX_BYTES = 8_000_000
"""Twice the spectra of 864 patches at 1 nm; more is not a file of patch values."""

MAX_LINES, MAX_LINE = 100_000, 100_000
"""Lines, and characters in one: far beyond any sheet, and read in a few seconds."""

MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
"""Byte order marks; UTF-32 first, because its mark begins with that of UTF-16."""

OTHERS = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"II*\0", "a TIFF picture"),
    (b"MM\0*", "a TIFF picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a spreadsheet or archive: save the values as CSV first"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet: save the values as CSV first"),
)
"""First bytes of files that are sometimes given by mistake."""

CTRL_Z = "\x1a"
"""End of text in files from old systems; what follows is padding."""


@dataclass(frozen=True, kw_only=True)
class Text:
    """A decoded file: its lines without their ends, and what was odd about it."""

    lines: tuple[str, ...]
    notes: tuple[str, ...]


def read_bytes(path: Path) -> bytes:
    """Read a whole file of reference values.

    Raises
    ------
    ReferenceFileError
        If it cannot be read.
    """
    try:
        with Path(path).open("rb") as file:
            return file.read(MAX_BYTES + 1)
    except OSError as error:
        reason = error.strerror or str(error)
        raise ReferenceFileError(f"{path}: cannot read the reference ({reason})") from error
    except ValueError as error:
        raise ReferenceFileError(f"{path!r}: not a usable file name ({error})") from error


def decode(data: bytes, where: str) -> Text:
    """Turn the bytes of a text file into lines.

    Parameters
    ----------
    data : bytes
        UTF-8, UTF-16 or UTF-32 with or without byte order mark; anything else is
        taken for Latin-1, with a note.
    where : str
        Names the file in messages.

    Raises
    ------
    ReferenceFileError
        If it is empty, too large, or not text.
    """
    if len(data) > MAX_BYTES:
        raise ReferenceFileError(f"{where}: larger than {MAX_BYTES} bytes: not patch values")
    for start, what in OTHERS:
        if data.startswith(start):
            raise ReferenceFileError(f"{where}: not a file of reference values but {what}")
    text, notes = _decoded(data, where)
    text, _, rest = text.partition(CTRL_Z)
    if rest.strip("\0\x1a \r\n\t"):
        notes.append("text after the Ctrl-Z end mark was left out")
    if not text.strip():
        raise ReferenceFileError(f"{where}: the file is empty")
    if re.search(r"[\0-\x08\x0e-\x1f]", text):
        raise ReferenceFileError(f"{where}: not a text file: give the values as text")
    lines = tuple(re.split(r"\r\n|\r|\n", text))
    if len(lines) > MAX_LINES or max(map(len, lines)) > MAX_LINE:
        raise ReferenceFileError(f"{where}: too many or too long lines: not patch values")
    return Text(lines=lines, notes=tuple(notes))


def _decoded(data: bytes, where: str) -> tuple[str, list[str]]:
    encoding = _encoding(data)
    try:
        return data.decode(encoding).removeprefix("\ufeff"), []
    except UnicodeDecodeError as error:
        if encoding != "utf-8":
            raise ReferenceFileError(
                f"{where}: damaged text (not valid {encoding[:6].upper().rstrip('-')}): "
                "save the file again as UTF-8"
            ) from error
    return data.decode("latin-1"), ["the text is not UTF-8 and was read as Latin-1"]


def _encoding(data: bytes) -> str:
    """Tell the encoding by its mark, or by where the zero bytes are."""
    for mark, encoding in MARKS:
        if data.startswith(mark):
            return encoding
    sample = data[:2000]
    half = max(len(sample) // 2, 1)
    even, odd = sample[0::2].count(0) / half, sample[1::2].count(0) / half
    if odd > 0.4 and even < 0.1:
        return "utf-16-le"
    if even > 0.4 and odd < 0.1:
        return "utf-16-be"
    return "utf-8"
