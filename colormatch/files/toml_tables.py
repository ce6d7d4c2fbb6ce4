"""What all our TOML files need: decoding, and mistakes told in the file's own words."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from difflib import get_close_matches
from typing import Any

import msgspec

from colormatch.errors import InputError


def decoded(
    data: bytes, where: str, error: type[InputError], *, most: int, what: str, advice: str
) -> dict[str, Any]:
    """Decode a TOML file.

    Parameters
    ----------
    data : bytes
        The file.
    where : str
        How messages call it.
    error : type
        Which error to raise.
    most : int
        Bytes beyond which it cannot be such a file.
    what, advice : str
        What the file should be ("a layout file"), and what to do if it is no
        text in UTF-8.
    """
    if len(data) > most:
        raise error(f"{where}: larger than {most} bytes, so not {what}")
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as problem:
        raise error(
            f"{where}: not a text file in UTF-8 (byte {problem.start + 1}): {advice}"
        ) from problem
    except (ValueError, RecursionError) as problem:
        raise error(f"{where}: not a TOML file: {problem}") from problem


def check_keys(
    table: Mapping[str, Any], entry_type: type[msgspec.Struct], where: str, error: type[InputError]
) -> None:
    """Refuse a key that means nothing here: most often a slip of the pen."""
    known = entry_type.__struct_fields__
    for key in table:
        if key not in known:
            close = get_close_matches(key, known, n=1)
            hint = f"did you mean {close[0]!r}?" if close else f"known are {', '.join(known)}"
            raise error(f"{where}: unknown key {key!r}: {hint}")


def explained(message: str, kinds: Iterable[str], title: Callable[[str, int], str]) -> str:
    """Put the place of a type error first and into the file's own words.

    Parameters
    ----------
    message : str
        As msgspec words it.
    kinds : iterable of str
        Names of the file's lists of entries.
    title : callable
        ``title(kind, index)`` names one entry, counted from 0.
    """
    what, _, place = message.replace("`", "").partition(" - at $")
    what = what.replace("Object missing required field", "lacks")
    what = what[0].lower() + what[1:].replace("str", "text").replace("float", "a number")
    item = re.match(rf"\.({'|'.join(kinds)})\[(\d+)\](?:\.(\w+))?", place)
    if not item:
        return f"{place.lstrip('.') or 'the top of the file'}: {what}"
    name = title(item[1], int(item[2]))
    return f"{name}, {item[3]}: {what}" if item[3] else f"{name}: {what}"
