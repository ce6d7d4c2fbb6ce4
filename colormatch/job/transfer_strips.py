"""Which of the strips in a scan is the known sheet, and which is to get values."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from colormatch.errors import TargetError
from colormatch.job.sheets import own_serials
from colormatch.job.tiles import mm_per_px
from colormatch.model import Reference, StripReading

SIDES = {"left": (0, 1), "right": (0, -1), "top": (1, 1), "bottom": (1, -1)}
"""Axis of a side, and the sign that puts the strip at that side first."""

APART = 8.0
"""Millimetres by which one strip's middle must be nearer to a side than all others'."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Pair:
    """The known sheet and the strip beside it; ``assumed`` says what nobody checked."""

    known: StripReading
    other: StripReading
    assumed: tuple[str, ...] = ()


def told_apart(
    where: str,
    strips: Sequence[StripReading],
    reference: Reference,
    designs: Collection[str],
    known_at: str = "",
) -> Pair:
    """Tell the known sheet from the strip beside it.

    Parameters
    ----------
    where : str
        The scan, for messages.
    strips : sequence of StripReading
        All that were found.
    reference : Reference
        Values of the known sheet.
    designs : collection of str
        Names of the layouts these values fit.
    known_at : str
        Side of the scan at which the known sheet lies; empty: by design and serial.

    Raises
    ------
    TargetError
        If it cannot be told.
    """
    if len(strips) < 2:
        raise TargetError(
            f"{where}: only one strip is seen ({_named(strips[0])}): lay the known sheet and the "
            "strip that is to get values side by side, clear of each other, and scan again"
        )
    known, assumed = (
        _at_side(where, strips, reference, designs, known_at)
        if known_at
        else _by_name(where, strips, reference, designs)
    )
    others = [strip for strip in strips if strip is not known]
    if len(others) > 1:
        raise TargetError(
            f"{where}: {len(others)} strips are seen beside the known sheet "
            f"({', '.join(map(_named, others))}): leave only the one that is to get values"
        )
    return Pair(known=known, other=others[0], assumed=assumed)


def _by_name(
    where: str, strips: Sequence[StripReading], reference: Reference, designs: Collection[str]
) -> tuple[StripReading, tuple[str, ...]]:
    """Find the known sheet by its serial, or by its design if only one is of that design."""
    fitting = [strip for strip in strips if strip.layout.name in designs]
    named = [strip for strip in fitting if strip.serial in own_serials(reference) and strip.serial]
    if len(named) == 1:
        return named[0], ()
    # What a symbol states is believed: a strip of another serial is not the known sheet.
    open_ones = [s for s in fitting if not (s.serial and own_serials(reference))]
    if len(named) > 1 or (own_serials(reference) and not open_ones):
        seen = ", ".join(map(_named, strips))
        raise TargetError(
            f"{where}: {reference.path} holds the values of sheet "
            f"{' '.join(own_serials(reference))}; seen are {seen}: lay exactly one strip of that "
            "sheet beside the one that is to get values"
        )
    if len(open_ones) > 1:
        raise TargetError(
            f"{where}: {len(open_ones)} strips could be the known sheet "
            f"({', '.join(map(_named, open_ones))}): say where it lies with --known-at left, "
            f"right, top or bottom, or write its serial into {reference.path} as a line "
            'SERIAL "7F3-K2A"'
        )
    if not open_ones:
        raise TargetError(
            f"{where}: none of the strips seen is of the known sheet's design "
            f"({', '.join(sorted(designs))}): lay it beside the strip, or give its --layout"
        )
    return open_ones[0], (
        f"{where}: {_named(open_ones[0])} is taken for the known sheet of {reference.path}, for "
        "its design; no serial says so",
    )


def _at_side(
    where: str,
    strips: Sequence[StripReading],
    reference: Reference,
    designs: Collection[str],
    known_at: str,
) -> tuple[StripReading, tuple[str, ...]]:
    """Take the strip at one side of the scan for the known sheet."""
    axis, sign = SIDES[known_at]
    places = [sign * float(np.mean(s.centres[:, axis])) * mm_per_px(s) for s in strips]
    order = np.argsort(places)
    known = strips[order[0]]
    if places[order[1]] - places[order[0]] < APART:
        raise TargetError(
            f"{where}: no strip lies clearly at the {known_at}: name another side with --known-at"
        )
    if known.layout.name not in designs:
        raise TargetError(
            f"{where}: the strip at the {known_at} is {_named(known)}, but {reference.path} holds "
            f"values of {', '.join(sorted(designs))}: name another side with --known-at"
        )
    if known.serial and own_serials(reference) and known.serial not in own_serials(reference):
        raise TargetError(
            f"{where}: the strip at the {known_at} is {_named(known)}, but {reference.path} holds "
            f"the values of sheet {' '.join(own_serials(reference))}: name another side with "
            "--known-at, or give the file that belongs to this sheet"
        )
    return known, (f"the strip at the {known_at} is the known sheet, as stated",)


def _named(strip: StripReading) -> str:
    """Call a strip by design and serial."""
    serial = f" {strip.serial}" if strip.serial else f", symbol {strip.symbol}"
    return f"{strip.layout.name}{serial}"
