"""Names of patches, however a file spells them."""

from __future__ import annotations

import re


def same_id(name: str) -> str:
    """Give the form in which two spellings of one patch id are equal.

    Case, quotes, blanks round the name and between letters and digits, and zeros
    in front of a number do not count: ``A1``, ``a01``, ``"A 1"`` and ``A001`` are
    one patch, ``GS00`` and ``GS0`` are another.

    Parameters
    ----------
    name : str
        As written in a layout or a reference file.

    Returns
    -------
    str
        Empty if the name is blank.

    References
    ----------
    Common practice, no source.
    """
    name = " ".join(name.strip(" \t\r\n\"'").split()).upper()
    name = re.sub(r"(?<=[^\W\d]) (?=\d)|(?<=\d) (?=[^\W\d])", "", name)
    return re.sub(r"(?<![\d.,])0+(?=\d)", "", name)
