"""Steps of the whole light from scan to scan: exposure that changed, a lamp warming up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray

SETTLES = 0.10
"""Largest log change of a lamp that warms up; more is exposure."""
REPEATS = 0.004
"""Log light by which settled scans differ; flatbeds repeat to 0.1-0.3 % (Med. Phys. 2015,
4929563), a reading of the strip adds as much."""
COLD = 0.010
"""Log light missing in the first scan from which on warming up is named: a first scan is
usually about 1 % off (common practice, no source)."""
SLOWER = 0.3
"""Share of the largest later change that the first one must reach: a lamp settles ever more
slowly, but a strip at the other end of the glass adds what changed during the scan."""
LEAST_SCANS = 3
"""Two scans only make a step."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Steps:
    """How the light of scans made one after the other compares.

    Attributes
    ----------
    change : ndarray of shape (N,)
        Light of each scan over the middle of all, less 1; of the channel that
        differs most.
    warming : ndarray of shape (N,)
        Light of each scan over the last one's, less 1, if the lamp was warming
        up; else 0.
    """

    change: FloatArray
    warming: FloatArray


def light_steps(gains: FloatArray) -> Steps:
    """Compare the light of scans in the order they were made.

    Parameters
    ----------
    gains : ndarray of shape (N, 3)
        Light per channel, in any common unit, above 0.

    Returns
    -------
    Steps
        Of two scans the second is compared with the first; of more, each with the
        median.
    """
    log = np.log(gains)
    middle = log[0] if len(log) < LEAST_SCANS else np.median(log, axis=0)
    off = log - middle
    largest = np.take_along_axis(off, np.abs(off).argmax(axis=1)[:, None], axis=1)[:, 0]
    warming = np.zeros(len(log))
    behind = log.mean(axis=1) - log[-1].mean()
    if _settling(behind):
        warming = np.expm1(behind)
    return Steps(change=np.expm1(largest), warming=warming)


def strip_light(linear: FloatArray, y: FloatArray) -> FloatArray:
    """Light of a scan, per channel, from its strip's greys.

    Right to about 2 %, as scattered light and fall-off stay in it; enough to tell
    another exposure from tiles whose tone curves were not fitted together.

    Parameters
    ----------
    linear : ndarray of shape (N, 3)
        The greys in the scan, linear light, 1 for the scanner's white.
    y : ndarray of shape (N,)
        Their reflectance, above 0.

    Returns
    -------
    ndarray of shape (3,)
        Of the perfect diffuser, 1 for the scanner's white.
    """
    return np.asarray(np.median(linear / y[:, None], axis=0))


def _settling(behind: FloatArray) -> bool:
    """Whether log light nears the last scan's ever more slowly, from one side."""
    if len(behind) < LEAST_SCANS:
        return False
    start = behind[0]
    if not COLD <= abs(start) <= SETTLES:
        return False
    left = behind * np.sign(start)
    falls = -np.diff(left)
    return bool((falls > -REPEATS).all() and falls[0] >= SLOWER * falls[1:].max() - REPEATS / 2)
