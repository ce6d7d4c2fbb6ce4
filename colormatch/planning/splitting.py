"""One direction of a painting, split into overlapping parts that fit the glass."""

from __future__ import annotations

import math
from dataclasses import dataclass

LARGEST_SHARE = 0.3
"""Of the smallest part that an overlap may be where there is room to spare.

Tiles that show nearly the same say nothing new, and merge takes them for one scan.
"""
LEAST_NEW = 1.0
"""What a part must show, in mm, that its neighbour does not."""
MOST_PARTS = 99
"""In one direction; what ``merge --order`` takes."""


@dataclass(frozen=True, kw_only=True)
class Room:
    """Where painting may lie along one direction of the glass, mm.

    Attributes
    ----------
    start, end : float
        Of what can be relied on, on the glass.
    before, after : float
        What is lost of it where the painting's first or last edge lies on the glass:
        a strip with its gaps, or a narrow rim.
    """

    start: float
    end: float
    before: float
    after: float


@dataclass(frozen=True, kw_only=True)
class Part:
    """A stretch of the painting, and how far the painting's first edge is from the glass's.

    ``first`` and ``last`` are measured on the painting, ``origin`` on the glass.
    """

    first: float
    last: float
    origin: float


def parts_needed(length: float, room: Room, overlap: float) -> int | None:
    """Give the least number of parts that cover ``length``; None if there is none.

    Every part but the first and the last has the whole room; neighbours share
    ``overlap``, which must be less than any part and than ``length``. None also where
    more than `MOST_PARTS` are needed.
    """
    whole = room.end - room.start
    if length <= whole - room.before - room.after + 1e-9:
        return 1
    ends = 2 * whole - room.before - room.after
    if min(whole - room.before, whole - room.after, length) < overlap + LEAST_NEW:
        return None
    more = max(0.0, length - (ends - overlap)) / (whole - overlap)
    count = 2 + math.ceil(more - 1e-9)
    return count if count <= MOST_PARTS else None


def split(length: float, room: Room, overlap: float, count: int) -> tuple[Part, ...]:
    """Cut ``length`` into ``count`` parts with even overlaps, each placed on the glass.

    Parameters
    ----------
    length : float
        Of the painting in this direction, mm.
    room : Room
        On the glass.
    overlap : float
        The least that neighbours share, mm.
    count : int
        As `parts_needed` gives it.

    Returns
    -------
    tuple of Part
        They cover the painting from 0 to ``length``. Spare room makes the overlaps
        larger, up to `LARGEST_SHARE`; what is left makes the parts smaller.
    """
    whole = room.end - room.start
    if count == 1:
        spare = whole - room.before - room.after - length
        # Beside a strip the painting lies close; else in the middle.
        at = 0.0 if room.before > room.after else 1.0 if room.after > room.before else 0.5
        return (Part(first=0.0, last=length, origin=room.start + room.before + at * spare),)
    widths = [whole - room.before, *[whole] * (count - 2), whole - room.after]
    most = max(overlap, LARGEST_SHARE * min(*widths, length))
    shared = min((sum(widths) - length) / (count - 1), most)
    level = _level(widths, length + (count - 1) * shared)
    return _laid([min(width, level) for width in widths], shared, room, length)


def _level(widths: list[float], total: float) -> float:
    """Give the limit that cuts the widest down until all together make ``total``."""
    left, rest = total, len(widths)
    for width in sorted(widths):
        if width * rest >= left:
            return left / rest
        left, rest = left - width, rest - 1
    # Nothing to cut, but for rounding.
    return max(widths)


def _laid(widths: list[float], shared: float, room: Room, length: float) -> tuple[Part, ...]:
    parts, first = [], 0.0
    for k, width in enumerate(widths):
        last = length if k == len(widths) - 1 else first + width
        if k == 0:
            # The inner side lies at the glass's edge, the outer one well inside.
            origin = room.end - last
        elif k == len(widths) - 1:
            origin = room.start - first
        else:
            origin = (room.start + room.end - width) / 2 - first
        parts.append(Part(first=first, last=last, origin=origin))
        first = last - shared
    return tuple(parts)
