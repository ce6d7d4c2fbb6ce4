"""Decoding text files."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.errors import ReferenceFileError
from colormatch.files.text import MAX_BYTES, decode, read_bytes

LINES = st.lists(
    st.text(st.characters(codec="utf-16", exclude_categories=["C", "Z"]), max_size=20), min_size=1
).filter(any)


@given(LINES, st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-32"]))
def test_every_unicode_form_gives_the_same_lines(lines: list[str], encoding: str) -> None:
    text = decode("\n".join(lines).encode(encoding), "file.txt")
    assert text.lines == tuple(lines)
    assert text.notes == ()


def test_only_line_ends_end_lines() -> None:
    # str.splitlines would also cut at the form feed, the vertical tab and U+2028.
    text = decode("a\x0cb\x0bc\u2028d\r\ne\rf\ng".encode(), "file.txt")
    assert text.lines == ("a\x0cb\x0bc\u2028d", "e", "f", "g")


# First bytes: PNG, JFIF, TIFF, PDF and ZIP specifications.
@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "the file is empty"),
        (b" \r\n\t", "the file is empty"),
        (b"\x1aLAB_L", "the file is empty"),
        (b"\x89PNG\r\n\x1a\n", "not a file of reference values but a PNG picture"),
        (b"\xff\xd8\xff\xe0", "a JPEG picture"),
        (b"II*\0", "a TIFF picture"),
        (b"MM\0*", "a TIFF picture"),
        (b"%PDF-1.7", "a PDF document"),
        (b"PK\x03\x04", "save the values as CSV first"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "save the values as CSV first"),
        (b"A1\0\0\x01\x02", "not a text file"),
        (b"A1 \x07", "not a text file"),
        (b"\xff\xfeA\0\n\xd8", "damaged text (not valid UTF-16)"),
        (b"\xef\xbb\xbfA\xff", "damaged text (not valid UTF-8)"),
        (b"a" * 100_001, "too many or too long lines"),
        (b"\n" * 100_000 + b"a", "too many or too long lines"),
        (b"a" * (MAX_BYTES + 1), f"larger than {MAX_BYTES} bytes"),
    ],
)
def test_what_is_not_text_is_named(data: bytes, message: str) -> None:
    with pytest.raises(ReferenceFileError, match=re.escape(message)) as caught:
        decode(data, "file.txt")
    assert str(caught.value).startswith("file.txt: ")


def test_unreadable_files(tmp_path: Path) -> None:
    with pytest.raises(ReferenceFileError, match=r"none\.txt: cannot read the reference \(No such"):
        read_bytes(tmp_path / "none.txt")
    with pytest.raises(ReferenceFileError, match="Is a directory"):
        read_bytes(tmp_path)
    with pytest.raises(ReferenceFileError, match="not a usable file name"):
        read_bytes(tmp_path / "a\0b")
