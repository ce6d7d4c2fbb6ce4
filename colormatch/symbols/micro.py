"""Eleven characters as a square of 15 x 15 modules: Micro QR, version M3, level M.

The symbol is that of ISO/IEC 18004:2015: one finder pattern, timing along its top and
left side, four data masks. Of its versions only this one is made and read: it is the
smallest that holds a design and a serial, and a quarter of its codewords may be lost.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
from numpy.typing import NDArray

from colormatch.symbols.codewords import check_words, corrected

Modules = NDArray[np.bool_]
"""Of shape (SIZE, SIZE), True for dark."""

SIZE = 15
QUIET = 2
"""Modules of bare paper the standard wants all round."""

LENGTH = 11
"""Characters: as many as fit."""

CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
"""Of the alphanumeric mode, in the standard's order."""

DATA_BITS, CHECK_WORDS = 68, 8
"""The last data codeword has four bits (table 9 of the standard)."""

HEAD = "01" + "1011"
"""Alphanumeric mode, and the count of characters, in version M3."""

NUMBER = 4
"""Of version M3, level M, in the format information (table 13)."""

FORMAT_GENERATOR, FORMAT_MASK = 0x537, 0x4445
MOST_FORMAT_ERRORS = 3
"""Bits of the format information that may be misread: what its code corrects."""


def modules(text: str) -> Modules:
    """Draw the symbol of a text.

    Parameters
    ----------
    text : str
        `LENGTH` of `CHARACTERS`.

    Returns
    -------
    ndarray of bool, shape (15, 15)
        True for dark; the quiet zone is not part of it.

    Raises
    ------
    ValueError
        If the text is of another length or has other characters.
    """
    bits = _bits(text)
    drawn = [_filled(bits, mask) for mask in range(4)]
    return max(drawn, key=_balance)


def text_of(dark: Modules) -> tuple[str, int] | None:
    """Read a symbol.

    Parameters
    ----------
    dark : ndarray of bool, shape (15, 15)
        As seen, errors and all.

    Returns
    -------
    tuple of str and int, or None
        The text and how many codewords were put right; None if it is not such a
        symbol, or too much of it is wrong.
    """
    mask, off = min(((m, _format_errors(dark, m)) for m in range(4)), key=lambda pair: pair[1])
    if off > MOST_FORMAT_ERRORS:
        return None
    rows, columns = _places()
    bits = (dark ^ _masks()[mask])[rows, columns].astype(int)
    words = [_number(bits[i : i + 8]) for i in range(0, DATA_BITS - 4, 8)]
    words.append(_number(bits[DATA_BITS - 4 : DATA_BITS]) << 4)
    words += [_number(bits[i : i + 8]) for i in range(DATA_BITS, len(bits), 8)]
    done = corrected(words, CHECK_WORDS)
    if done is None:
        return None
    text = _text("".join(f"{word:08b}" for word in done[0])[:DATA_BITS])
    return None if text is None else (text, done[1])


def pattern() -> tuple[Modules, Modules]:
    """Give the part of the symbol that is always the same: which modules, and how dark."""
    row, column = np.indices((SIZE, SIZE))
    ring = np.maximum(abs(row - 3), abs(column - 3))
    finder = (row < 8) & (column < 8)
    dark = finder & (ring != 2) & (ring < 4)
    timing = ~finder & ((row == 0) | (column == 0))
    return finder | timing, dark | (timing & ((row + column) % 2 == 0))


def _bits(text: str) -> NDArray[np.bool_]:
    """Encode a text and add what corrects errors."""
    if len(text) != LENGTH or set(text) - set(CHARACTERS):
        raise ValueError(f"text must be {LENGTH} of {CHARACTERS!r} (got {text!r})")
    codes = [CHARACTERS.index(c) for c in text]
    pairs = "".join(f"{45 * a + b:011b}" for a, b in zip(codes[:-1:2], codes[1::2], strict=True))
    data = (HEAD + pairs + f"{codes[-1]:06b}").ljust(DATA_BITS, "0")
    words = [int(data[i : i + 8].ljust(8, "0"), 2) for i in range(0, DATA_BITS, 8)]
    checks = "".join(f"{word:08b}" for word in check_words(words, CHECK_WORDS))
    return np.array([bit == "1" for bit in data + checks])


def _text(data: str) -> str | None:
    """Decode the data bits; None if they are of another mode or length."""
    if not data.startswith(HEAD):
        return None
    body = data[len(HEAD) :]
    pairs = [int(body[i : i + 11], 2) for i in range(0, 11 * (LENGTH // 2), 11)]
    last = int(body[55:61], 2)
    if max(pairs) >= 45 * 45 or last >= 45:
        return None
    return "".join(CHARACTERS[p // 45] + CHARACTERS[p % 45] for p in pairs) + CHARACTERS[last]


def _filled(bits: NDArray[np.bool_], mask: int) -> Modules:
    """Put bits, mask and format information into the symbol."""
    symbol = pattern()[1].copy()
    rows, columns = _places()
    symbol[rows, columns] = bits ^ _masks()[mask][rows, columns]
    for (row, column), bit in zip(_format_places(), _format(mask), strict=True):
        symbol[row, column] = bit
    return symbol


def _balance(symbol: Modules) -> int:
    """Rate a mask by the dark modules at the right and lower side (7.8.3.2): more is better."""
    right, low = int(symbol[1:, -1].sum()), int(symbol[-1, 1:].sum())
    return 16 * min(right, low) + max(right, low)


@cache
def _places() -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns of the data modules, in the order of the bits (7.7.3)."""

    def walk() -> Iterator[tuple[int, int]]:
        for turn, right in enumerate(range(SIZE - 1, 0, -2)):
            down = range(1, SIZE)
            for row in down if turn % 2 else reversed(down):
                for column in (right, right - 1):
                    if row > 8 or column > 8:
                        yield row, column

    rows, columns = zip(*walk(), strict=True)
    return np.array(rows), np.array(columns)


@cache
def _masks() -> tuple[Modules, ...]:
    """Give the four data masks of a Micro QR symbol (table 10)."""
    i, j = np.indices((SIZE, SIZE))
    return (
        i % 2 == 0,
        (i // 2 + j // 3) % 2 == 0,
        (i * j % 2 + i * j % 3) % 2 == 0,
        ((i + j) % 2 + i * j % 3) % 2 == 0,
    )


def _format(mask: int) -> list[bool]:
    """Give the 15 bits of format information, highest first (7.9)."""
    data = NUMBER << 2 | mask
    left = data << 10
    for place in range(14, 9, -1):
        if left >> place & 1:
            left ^= FORMAT_GENERATOR << (place - 10)
    value = (data << 10 | left) ^ FORMAT_MASK
    return [bool(value >> place & 1) for place in range(14, -1, -1)]


def _format_places() -> list[tuple[int, int]]:
    return [(8, column) for column in range(1, 9)] + [(row, 8) for row in range(7, 0, -1)]


def _format_errors(dark: Modules, mask: int) -> int:
    seen = [bool(dark[place]) for place in _format_places()]
    return sum(a != b for a, b in zip(seen, _format(mask), strict=True))


def _number(bits: NDArray[np.int_]) -> int:
    return int("".join(map(str, bits)), 2)
