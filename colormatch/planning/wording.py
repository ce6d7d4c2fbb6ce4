"""What cannot be planned, in one sentence with the way out."""

from __future__ import annotations

import math
from collections.abc import Mapping

from colormatch.errors import InputError
from colormatch.plans import Size, Wish

SMALLEST, LARGEST = 10.0, 20_000.0
"""Sides of a painting that are believed, mm."""
LEAST_PPI, MOST_PPI = 50.0, 4800.0


def refuse_nonsense(wish: Wish) -> None:
    """Refuse lengths that no painting and no scanner has."""
    _believed("the painting", wish.painting)
    _believed("the glass", wish.glass)
    if not LEAST_PPI <= wish.ppi <= MOST_PPI:
        raise InputError(
            f"{wish.ppi:g} ppi is no resolution to scan a painting at: give one between "
            f"{LEAST_PPI:g} and {MOST_PPI:g}, 600 for originals"
        )
    for name, length in (("overlap", wish.overlap), ("clear start of the glass", wish.clear)):
        if not (math.isfinite(length) and length >= 0):
            raise InputError(f"the {name} must be 0 mm or more (got {length:g} mm)")
    if wish.overlap <= 0:
        raise InputError(
            "tiles without an overlap cannot be put together: give 30 mm or more with --overlap"
        )
    if wish.clear >= wish.glass[1]:
        raise InputError(
            f"the start to keep clear, {wish.clear:g} mm, is as long as the glass, "
            f"{wish.glass[1]:g} mm: give what the scanner's maker says with --clear, often 0mm"
        )


def _believed(what: str, size: Size) -> None:
    for length in size:
        if not (math.isfinite(length) and SMALLEST <= length <= LARGEST):
            raise InputError(
                f"{what} cannot be {size[0]:g} x {size[1]:g} mm: give width and height between "
                f"{SMALLEST:g} mm and {LARGEST / 1000:g} m, with their unit, like 500x700mm"
            )


def refuse_small_glass(wish: Wish, strips: Mapping[str, Size], margin: float) -> None:
    """Refuse a glass on which no strip lies flat."""
    length, width = min(strips.values())
    room = wish.glass[0], wish.glass[1] - wish.clear
    if max(room) < length + 2 * margin or min(room) < width + 2 * margin:
        raise InputError(
            f"the glass, {wish.glass[0]:g} x {wish.glass[1]:g} mm with its first "
            f"{wish.clear:g} mm kept clear, is too small for the shortest strip, {length:g} x "
            f"{width:g} mm: use a larger scanner"
        )


def impossible(wish: Wish, most: float) -> InputError:
    """Say why no layout exists."""
    if wish.overlap >= most:
        if most < SMALLEST:
            return InputError(
                f"a glass of {wish.glass[0]:g} x {wish.glass[1]:g} mm has no room for a strip and "
                "a painting beside each other: use a larger scanner"
            )
        return InputError(
            f"an overlap of {wish.overlap:g} mm is not less than what one tile can show beside "
            f"its strip, {most:g} mm on this glass: ask for less with --overlap; 30 mm, or a "
            "quarter of a tile, is usual"
        )
    if wish.overlap >= min(wish.painting):
        return InputError(
            f"an overlap of {wish.overlap:g} mm is not less than the painting's own "
            f"{min(wish.painting):g} mm: ask for less with --overlap"
        )
    return InputError(
        f"a painting of {wish.painting[0]:g} x {wish.painting[1]:g} mm would take more than 99 "
        "tiles in one direction on this glass: use a larger scanner, or have it photographed"
    )
