"""From a log's rows to days: light, inks and tones of each strip on each scanner.

All readings of a scanner are taken through one tone curve, that of its first day, so
that a curve fitted to a faded strip does not hide the fading. In the logarithm of
that light a lamp adds the same to every patch; an ink that has lost a share of its
density adds that share of the density it had.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.spaces import xyz_from_lab
from colormatch.drifts import FOLLOWED, INKS, LIGHTS, UNEVEN, Day, Quantity, Series
from colormatch.logbook import LogEntry, PatchEntry
from colormatch.model import FloatArray
from colormatch.tracking.trends import trends_of

LIGHT_NEUTRAL = (80.0, 8.0)
"""L* above and chroma below which a patch is paper, or nearly."""
PAPER = 92.0
"""L* of patches from which densities are counted."""
DARKEST = 20.0
"""L* below which patches are left out: noise and scattered light."""
FEWEST_PATCHES = 12
DUST = 0.01
"""Share of light beyond which a patch counts less."""
FIRST_DAYS = 3
"""From whose median changes are counted."""
LEAST_DENSITY = 0.3
"""Largest density (natural logarithm) that a set of patches must reach to tell of an ink."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Curve:
    """Natural logarithm of linear light over that of the encoded value."""

    encoded: FloatArray
    linear: FloatArray

    def at(self, encoded: FloatArray) -> FloatArray:
        """Give the logarithm of the light; beyond its ends the curve goes on straight."""
        x = np.log(encoded)
        inside = np.interp(x, self.encoded, self.linear)
        beyond = x - np.clip(x, self.encoded[0], self.encoded[-1])
        steep = np.where(beyond < 0, self._slope(0, 8), self._slope(-9, -1))
        return np.asarray(inside + beyond * steep)

    def _slope(self, a: int, b: int) -> float:
        run = self.encoded[b] - self.encoded[a]
        return float((self.linear[b] - self.linear[a]) / run) if run > 0 else 1.0


def series_of(entries: Sequence[LogEntry]) -> tuple[Series, ...]:
    """Sort a log into series and follow each.

    Parameters
    ----------
    entries : sequence of LogEntry
        In the order of time; scans that could not be used are passed over.

    Returns
    -------
    tuple of Series
        By scanner, then by the first day of each strip.
    """
    usable = [entry for entry in entries if _read(entry)]
    found = []
    for scanner in dict.fromkeys(entry.scanner for entry in usable):
        rows = [entry for entry in usable if entry.scanner == scanner]
        first = [row for row in rows if row.time[:10] == rows[0].time[:10]]
        curve, white = _curve(first), first[0]
        keys = dict.fromkeys((r.strip, r.reference_key) for r in rows)
        for strip, key in keys:
            mine = [r for r in rows if (r.strip, r.reference_key) == (strip, key)]
            found.append(_series(mine, curve, white))
    return tuple(found)


def _read(entry: LogEntry) -> bool:
    return not entry.error and sum(map(_shown, entry.patches)) >= FEWEST_PATCHES


def _shown(patch: PatchEntry) -> bool:
    """Tell whether a patch was read, and sent light in all channels."""
    parts = (patch.encoded, patch.linear, patch.light)
    return all(part is not None and min(part) > 0 for part in parts)


def _curve(entries: Iterable[LogEntry]) -> Curve:
    """Collect the tone curve of some scans from their own readings."""
    pairs = np.array(
        [
            (x, y)
            for entry in entries
            for patch in entry.patches
            if _shown(patch) and patch.encoded and patch.linear
            for x, y in zip(patch.encoded, patch.linear, strict=True)
        ]
    )
    x, y = np.log(pairs).T
    levels, where = np.unique(x, return_inverse=True)
    means = np.bincount(where, weights=y) / np.bincount(where)
    return Curve(encoded=levels, linear=means)


def _series(rows: Sequence[LogEntry], curve: Curve, first: LogEntry) -> Series:
    ids = list(dict.fromkeys(patch.id for row in rows for patch in row.patches))
    wanted = {patch.id: patch.wanted for row in rows for patch in row.patches}
    lab = np.array([wanted[name] for name in ids])
    logs = np.array([_logs(row, ids, curve) for row in rows])
    dates = list(dict.fromkeys(row.time[:10] for row in rows))
    of_day = [[k for k, row in enumerate(rows) if row.time[:10] == day] for day in dates]
    daily = np.array([_middle(logs[members]) for members in of_day])
    patches = Patches(lab=lab, base=_middle(daily))
    levels = _levels(daily, lab, first) if rows[0].reference_kind == "measured" else None
    measured = _from_first([patches.values(one) for one in daily])
    days = tuple(
        Day(
            date=day,
            scans=len(members),
            values=measured[k] | _differences([rows[m] for m in members]),
            level=None if levels is None else _triple(levels[k]),
        )
        for k, (day, members) in enumerate(zip(dates, of_day, strict=True))
    )
    return Series(
        scanner=rows[0].scanner,
        strip=rows[0].strip,
        reference_kind=rows[0].reference_kind,
        reference_key=rows[0].reference_key,
        scans=len(rows),
        days=days,
        trends=trends_of(days),
    )


def _logs(entry: LogEntry, ids: Sequence[str], curve: Curve) -> FloatArray:
    """Logarithm of every patch's light through the scanner's first curve, (P, 3)."""
    result = np.full((len(ids), 3), np.nan)
    place = {name: k for k, name in enumerate(ids)}
    used = [patch for patch in entry.patches if _shown(patch)]
    parts = np.array([(p.encoded, p.linear, p.light) for p in used], dtype=float)
    encoded, linear, light = np.moveaxis(parts, 1, 0)
    where = [place[patch.id] for patch in used]
    # What scattering and fall-off took away is kept as the share it was.
    result[where] = curve.at(encoded) + np.log(light / linear)
    return result


def _middle(logs: FloatArray) -> FloatArray:
    """Median over the first axis; not a number where no reading is."""
    result = np.full(logs.shape[1:], np.nan)
    seen = ~np.isnan(logs).all(axis=0)
    result[seen] = np.nanmedian(logs[:, seen], axis=0)
    return result


def _from_first(days: list[dict[Quantity, float]]) -> list[dict[Quantity, float]]:
    """Count every quantity from the median of its first days."""
    zero: dict[Quantity, float] = {}
    for quantity in FOLLOWED:
        shown = [day[quantity] for day in days if quantity in day][:FIRST_DAYS]
        zero[quantity] = float(np.median(shown)) if shown else 0.0
    return [{q: value - zero[q] for q, value in day.items()} for day in days]


def _differences(rows: Sequence[LogEntry]) -> dict[Quantity, float]:
    shown = np.array([row.left_out for row in rows if row.left_out is not None])
    if not len(shown):
        return {}
    mean, p95 = np.median(shown[:, :2], axis=0)
    return {Quantity.MEAN: float(mean), Quantity.P95: float(p95)}


def light_neutrals(lab: FloatArray) -> NDArray[np.bool_]:
    """Tell the patches that are paper or nearly, shape (P,); all if there are none."""
    lightness, chroma = lab[:, 0], np.hypot(lab[:, 1], lab[:, 2])
    found: NDArray[np.bool_] = (lightness > LIGHT_NEUTRAL[0]) & (chroma < LIGHT_NEUTRAL[1])
    return found if found.sum() >= 2 else np.ones(len(lab), dtype=bool)


def _levels(daily: FloatArray, lab: FloatArray, first: LogEntry) -> FloatArray | None:
    """Light of the neutrals against what the reference demands, percent, (days, 3).

    Demanded is what the scanner's first scan made of such a colour.
    """
    if first.matrix is None or first.gains is None:
        return None
    neutral = light_neutrals(lab)
    demanded = np.linalg.solve(np.array(first.matrix), xyz_from_lab(lab[neutral]).T).T
    expected = np.log(np.maximum(demanded * np.array(first.gains), 1e-6))
    return 100 * np.array([_middle(day[neutral] - expected) for day in daily])


@dataclass(frozen=True, kw_only=True, eq=False)
class Patches:
    """Patches of one series: their reference, (P, 3), and their usual log light, (P, 3)."""

    lab: FloatArray
    base: FloatArray

    def values(self, logs: FloatArray) -> dict[Quantity, float]:
        """Measure one day against the usual: percent of light, of density lost."""
        moved = logs - self.base
        neutral = light_neutrals(self.lab)
        light = _middle(moved[neutral])
        if np.isnan(light).any():
            return {}
        found = dict(zip(LIGHTS, (100 * float(v) for v in light), strict=True))
        found[Quantity.BLUE_OVER_RED] = 100 * float(light[2] - light[0])
        return found | self._inks(moved - light)

    def _inks(self, moved: FloatArray) -> dict[Quantity, float]:
        grey, excess = self._densities()
        tones, found = [], {}
        for channel, ink in enumerate(INKS):
            share = shares(moved[:, channel], grey, excess[:, channel])
            if share is not None:
                tones.append(100 * share[0])
                found[ink] = 100 * share[1]
        if len(found) == len(INKS):
            found[Quantity.TONE] = float(np.median(tones))
            found |= {q: found[a] - found[b] for (a, b), q in UNEVEN.items()}
        return found

    def _densities(self) -> tuple[FloatArray, FloatArray]:
        """Density that all channels share, (P,), and what each has beyond it, (P, 3)."""
        paper = light_neutrals(self.lab) & (self.lab[:, 0] > PAPER)
        if not paper.any():
            paper = light_neutrals(self.lab)
        density = _middle(self.base[paper]) - self.base
        density[self.lab[:, 0] < DARKEST] = np.nan
        grey = np.maximum(density.min(axis=1), 0.0)
        return grey, density - grey[:, None]


def shares(moved: FloatArray, grey: FloatArray, excess: FloatArray) -> tuple[float, float] | None:
    """Fit ``moved = tone * grey + ink * excess`` over the patches, robustly.

    Returns
    -------
    tuple of float or None
        Share of the common and of the excess density lost; None where the patches do
        not reach a density from which that could be told.
    """
    from scipy.optimize import least_squares

    used = ~(np.isnan(moved) | np.isnan(grey) | np.isnan(excess))
    design = np.stack([grey[used], excess[used]], axis=1)
    if used.sum() < FEWEST_PATCHES or (design.max(axis=0) < LEAST_DENSITY).any():
        return None
    goal = moved[used]

    def misfit(share: FloatArray) -> FloatArray:
        return np.asarray(design @ share - goal)

    fit = least_squares(misfit, np.zeros(2), loss="soft_l1", f_scale=DUST)
    return float(fit.x[0]), float(fit.x[1])


def _triple(values: FloatArray) -> tuple[float, float, float] | None:
    if np.isnan(values).any():
        return None
    a, b, c = (float(value) for value in values)
    return a, b, c
