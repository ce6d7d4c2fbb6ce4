"""What the symbol of a sheet says: its design, and which sheet of that design it is.

The text is ``SL1 7F3-K2A``: three characters of design, a space, and the serial: three
characters, a hyphen, three more. The serial's first five characters belong to the
printed page, its last to the copy on that page. 0, 1, I, L, O and U, which
are easily taken for another, are not among them, for serials are also typed.
"""

from __future__ import annotations

import re
import secrets

SERIAL_CHARACTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
COPIES = "ABCDEFGHJK"
"""The last character of a serial, copy by copy."""

_PAGE = re.compile(f"[{SERIAL_CHARACTERS}]{{3}}-[{SERIAL_CHARACTERS}]{{2}}")
_SERIAL = re.compile(f"[{SERIAL_CHARACTERS}]{{3}}-[{SERIAL_CHARACTERS}]{{3}}")
_DESIGN = re.compile("[A-Z0-9]{3}")


def random_page() -> str:
    """Give a page's serial that nobody can foretell: one of 24 million."""
    drawn = "".join(secrets.choice(SERIAL_CHARACTERS) for _ in range(5))
    return f"{drawn[:3]}-{drawn[3:]}"


def is_page(text: str) -> bool:
    """Tell whether a text is a page's serial, such as ``7F3-K2``."""
    return _PAGE.fullmatch(text) is not None


def is_serial(text: str) -> bool:
    """Tell whether a text is a sheet's serial, such as ``7F3-K2A``."""
    return _SERIAL.fullmatch(text) is not None


def is_design(text: str) -> bool:
    """Tell whether a text can stand for a design, such as ``SL1``."""
    return _DESIGN.fullmatch(text) is not None


def sheet_text(design: str, serial: str) -> str:
    """Give the text of a sheet's symbol.

    Raises
    ------
    ValueError
        If ``design`` or ``serial`` is not of its form.
    """
    if not (is_design(design) and is_serial(serial)):
        raise ValueError(f"design must be like SL1, serial like 7F3-K2A (got {design}, {serial})")
    return f"{design} {serial}"


def parsed(text: str) -> tuple[str, str] | None:
    """Give the design and the serial that a symbol states; None if it states none."""
    design, space, serial = text.partition(" ")
    return (design, serial) if space and is_design(design) and is_serial(serial) else None


def same_page(first: str, second: str) -> bool:
    """Tell whether two serials are copies from one printed page."""
    return first[:-1] == second[:-1]
