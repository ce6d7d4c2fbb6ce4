"""Reed-Solomon codewords over GF(256), as ISO/IEC 18004 uses them.

The field is built on x^8 + x^4 + x^3 + x^2 + 1, the generator's roots are the powers
of 2 from the zeroth on. Errors are located by the Berlekamp-Massey algorithm
(J. Massey, IEEE Trans. Inf. Theory 15, 1969) and valued by Forney's formula
(G. Forney, IEEE Trans. Inf. Theory 11, 1965).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

FIELD = 0x11D
"""The field's polynomial, ISO/IEC 18004:2015, 7.5.2."""

ORDER = 255


@cache
def _tables() -> tuple[list[int], list[int]]:
    """Powers of 2, and the logarithms of 1 to 255."""
    powers, logs = [0] * (2 * ORDER), [0] * (ORDER + 1)
    value = 1
    for i in range(ORDER):
        powers[i] = powers[i + ORDER] = value
        logs[value] = i
        value = value << 1 ^ (FIELD if value & 0x80 else 0)
    return powers, logs


def _times(a: int, b: int) -> int:
    powers, logs = _tables()
    return powers[logs[a] + logs[b]] if a and b else 0


def _over(a: int, b: int) -> int:
    powers, logs = _tables()
    return powers[logs[a] + ORDER - logs[b]] if a else 0


def _product(first: Sequence[int], second: Sequence[int]) -> list[int]:
    """Multiply polynomials, lowest power first."""
    result = [0] * (len(first) + len(second) - 1)
    for i, a in enumerate(first):
        for k, b in enumerate(second):
            result[i + k] ^= _times(a, b)
    return result


def _value(polynomial: Sequence[int], at: int) -> int:
    """Evaluate a polynomial, lowest power first."""
    value = 0
    for coefficient in reversed(polynomial):
        value = _times(value, at) ^ coefficient
    return value


def check_words(data: Sequence[int], count: int) -> list[int]:
    """Give the error correction codewords of a message.

    Parameters
    ----------
    data : sequence of int
        Codewords, 0 to 255.
    count : int
        How many to add.
    """
    generator = [1]
    for i in range(count):
        generator = _product(generator, [_tables()[0][i], 1])
    left = [*data, *[0] * count]
    for i in range(len(data)):
        factor = left[i]
        for k, coefficient in enumerate(reversed(generator)):
            left[i + k] ^= _times(factor, coefficient)
    return left[len(data) :]


def corrected(words: Sequence[int], count: int) -> tuple[list[int], int] | None:
    """Correct a received message.

    Parameters
    ----------
    words : sequence of int
        Data and error correction codewords, 0 to 255.
    count : int
        How many of them, at the end, are for error correction; half as many
        wrong ones can be put right.

    Returns
    -------
    tuple or None
        All codewords and how many were wrong; None if they are too many.
    """
    polynomial = list(reversed(words))
    powers, _ = _tables()
    syndromes = [_value(polynomial, powers[i]) for i in range(count)]
    if not any(syndromes):
        return list(words), 0
    locator = _locator(syndromes)
    wrong = [i for i in range(len(words)) if _value(locator, powers[(ORDER - i) % ORDER]) == 0]
    if len(wrong) != len(locator) - 1 or 2 * len(wrong) > count:
        return None
    evaluator = _product(syndromes, locator)[:count]
    # In a field of two, the derivative keeps the odd powers alone.
    slope = [c if i % 2 else 0 for i, c in enumerate(locator)][1:]
    for i in wrong:
        root = powers[(ORDER - i) % ORDER]
        error = _over(_times(powers[i], _value(evaluator, root)), _value(slope, root))
        polynomial[i] ^= error
    if any(_value(polynomial, powers[i]) for i in range(count)):
        return None
    return polynomial[::-1], len(wrong)


def _locator(syndromes: Sequence[int]) -> list[int]:
    """Give the error locator, lowest power first, trailing zeros dropped."""
    locator, former = [1], [1]
    errors, gap, scale = 0, 1, 1
    for i in range(len(syndromes)):
        known = min(len(locator), i + 1)
        off = 0
        for k in range(known):
            off ^= _times(locator[k], syndromes[i - k])
        if off:
            change = [0] * gap + [_times(_over(off, scale), c) for c in former]
            longer = max(len(locator), len(change))
            padded = [*locator, *[0] * (longer - len(locator))]
            result = [a ^ b for a, b in zip(padded, change + [0] * longer, strict=False)]
            if 2 * errors <= i:
                errors, former, scale, gap = i + 1 - errors, locator, off, 0
            locator = result
        gap += 1
    while locator[-1] == 0:
        locator.pop()
    return locator
