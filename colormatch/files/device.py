"""What made a scan, as the file states it."""

from __future__ import annotations

MAKE, MODEL = 271, 272
"""Tags of TIFF 6.0, section 8, and of Exif 2.32, table 4 (cited from memory)."""
LONGEST = 80


def device_name(make: object, model: object) -> str:
    """Join make and model to one name, the make once; empty if neither is stated.

    Parameters
    ----------
    make, model : object
        As stored: text, or anything else, which counts as not stated.
    """
    first, second = _plain(make), _plain(model)
    if first and second.lower().startswith(first.lower()):
        first = ""
    return f"{first} {second}".strip()[:LONGEST]


def _plain(text: object) -> str:
    if not isinstance(text, str):
        return ""
    marks = (mark if mark.isprintable() else " " for mark in text)
    return " ".join("".join(marks).split())
