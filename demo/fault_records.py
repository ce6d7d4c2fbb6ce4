"""What a known fault is: its strengths, what it should be called, what should be advised."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .jobs import PAINTINGS, Job, OneScan
from .settings import StripPlace

STRENGTHS = ("slight", "plain", "strong")
"""Slight: within what the trade accepts of good work, or just beyond. Plain: what a
careful person would notice. Strong: beyond the last grade of the published tolerances,
or spoiling the result for certain. Each number's reason stands beside it; none was
chosen by what the program can see."""

USE, CARE, RESCAN = "use it", "use it with care", "scan again"

Change = Callable[[Job, int, np.random.Generator], Job]


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One known fault.

    Attributes
    ----------
    name : str
        Its own, as several may be of one kind.
    kinds : tuple of str
        What a finding may rightly call it.
    advice : tuple of str
        The mildest right advice for each of `STRENGTHS`.
    change : callable
        ``change(job, strength, rng)`` gives the job with the fault in it.
    also : tuple of str
        Kinds that hold too when this fault is there.
    tiles : int
        Scans in the job.
    faulty : tuple of int
        Scans of which one must carry the finding.
    paintings : tuple of str
        On which it can happen.
    """

    name: str
    kinds: tuple[str, ...]
    advice: tuple[str, str, str]
    change: Change
    also: tuple[str, ...] = ()
    tiles: int = 1
    faulty: tuple[int, ...] = (0,)
    paintings: tuple[str, ...] = PAINTINGS


def with_scanner(job: Job, index: int | None, **changes: Any) -> Job:
    """Give the job with other settings of the scanner in one scan, or in all."""
    for number, one in enumerate(job.scans):
        if index is None or number == index:
            job = job.changed(number, replace(one, scanner=replace(one.scanner, **changes)))
    return job


def with_tile(job: Job, index: int, **changes: Any) -> Job:
    """Give the job with one scan's tile settings changed."""
    one = job.scans[index]
    return job.changed(index, replace(one, tile=replace(one.tile, **changes)))


def with_strip(job: Job, index: int, **changes: Any) -> Job:
    """Give the job with one scan's strip changed."""
    (place,) = job.scans[index].tile.strips
    changed: StripPlace = replace(place, **changes)
    return with_tile(job, index, strips=(changed,))


def with_file(job: Job, index: int | None, **changes: Any) -> Job:
    """Give the job with one scan, or all, written otherwise."""
    for number, one in enumerate(job.scans):
        if index is None or number == index:
            scan: OneScan = replace(one, saved=replace(one.saved, **changes))
            job = job.changed(number, scan)
    return job
