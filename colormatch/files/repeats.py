"""Several measurements of one patch made into one, outliers left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from colormatch.errors import ReferenceFileError
from colormatch.files.colours import AGREE, Colours
from colormatch.files.ids import same_id
from colormatch.model import FloatArray

REJECT = 3.5
"""Scaled median absolute deviations from the median beyond which a reading is an outlier."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Repeated:
    """One patch, read several times.

    Attributes
    ----------
    xyz : ndarray of shape (3,)
        Mean of the readings kept.
    spread : float
        ΔE2000 of a single reading from that mean, root mean square, for as many
        readings as were kept; 0 for one.
    kept : ndarray of bool, shape (K,)
        Which readings.
    """

    xyz: FloatArray
    spread: float
    kept: NDArray[np.bool_]

    @property
    def error(self) -> float:
        """Standard error of the mean, ΔE2000."""
        return self.spread / float(np.sqrt(self.kept.sum()))

    @property
    def agree(self) -> bool:
        """Whether the readings kept are those of one colour, and more than half of all."""
        return self.spread <= AGREE and bool(2 * self.kept.sum() > len(self.kept))


def repeated(xyz: FloatArray) -> Repeated:
    """Average readings of one patch.

    With three and more, those far from the median are left out; of two nobody can
    tell which is right.

    Parameters
    ----------
    xyz : ndarray of shape (K, 3)
        One row for each reading, at least one.
    """
    if len(xyz) == 1:
        return Repeated(xyz=xyz[0], spread=0.0, kept=np.ones(1, dtype=np.bool_))
    lab = lab_from_xyz(np.maximum(xyz, 0.0))
    kept = np.ones(len(xyz), dtype=np.bool_)
    if len(xyz) > 2:
        away = delta_e_2000(lab, np.median(lab, axis=0))
        kept = away <= max(REJECT * 1.4826 * float(np.median(away)), AGREE)
    mean = xyz[kept].mean(axis=0)
    off = delta_e_2000(lab[kept], lab_from_xyz(np.maximum(mean, 0.0)))
    count = int(kept.sum())
    spread = float(np.sqrt(np.sum(off**2) / (count - 1))) if count > 1 else 0.0
    return Repeated(xyz=mean, spread=spread, kept=kept)


def merged_colours(found: Sequence[Colours], where: str) -> Colours:
    """Put the patches of all tables together, and repeated ones into one.

    Parameters
    ----------
    found : sequence of Colours
        At least one.
    where : str
        Names the file or files in messages.

    Raises
    ------
    ReferenceFileError
        If the readings of a patch do not agree.
    """
    ids = [id_ for some in found for id_ in some.ids]
    places = [place for some in found for place in some.places]
    xyz, sigma = (
        np.concatenate(parts) for parts in zip(*((c.xyz, c.sigma) for c in found), strict=True)
    )
    rows: dict[str, list[int]] = {}
    for i, id_ in enumerate(ids):
        rows.setdefault(same_id(id_), []).append(i)
    patches = [repeated(xyz[group]) for group in rows.values()]
    for group, one in zip(rows.values(), patches, strict=True):
        _require_agreement(xyz[group], one, [places[i] for i in group], where)
    names = [ids[group[0]] for group in rows.values()]
    notes = [note for some in found for note in some.notes]
    if len(names) < len(ids):
        notes.append(spread_words(names, patches))
    return Colours(
        ids=tuple(names),
        xyz=np.stack([one.xyz for one in patches]),
        sigma=_filled([_sigma(sigma[g], p) for g, p in zip(rows.values(), patches, strict=True)]),
        places=tuple(places[group[0]] for group in rows.values()),
        notes=tuple(notes),
    )


def _require_agreement(xyz: FloatArray, one: Repeated, places: Sequence[str], where: str) -> None:
    """Refuse readings of one patch of which nobody can say which are right."""
    if len(xyz) == 1:
        return
    off = delta_e_2000(lab_from_xyz(xyz), lab_from_xyz(xyz[0]))
    if len(xyz) == 2 and off[1] > AGREE:
        raise ReferenceFileError(
            f"{places[1]}: differs by {off[1]:.1f} ΔE2000 from "
            f"{places[0].removeprefix(where + ': ')}: keep the right one"
        )
    if not one.agree:
        raise ReferenceFileError(
            f"{places[0]}: its {len(xyz)} readings differ by {one.spread:.1f} ΔE2000 from their "
            "mean, so they are not readings of one patch: keep those that are right"
        )


def _sigma(stated: FloatArray, one: Repeated) -> float:
    """Combine what the file states with what repeated readings show."""
    known = stated[one.kept]
    shared = float(np.mean(known)) if np.isfinite(known).all() else np.nan
    # Readings that are equal to the last digit are copies.
    if one.spread == 0:
        return shared
    return float(np.hypot(np.nan_to_num(shared), one.error))


def _filled(sigma: Sequence[float]) -> FloatArray:
    """Give patches read only once the mean of the others' uncertainty."""
    values = np.array(sigma)
    known = np.isfinite(values)
    return np.where(known, values, values[known].mean()) if known.any() else values


def spread_words(ids: Sequence[str], patches: Sequence[Repeated]) -> str:
    """Say how well repeated readings agree; ``ids`` name the patches."""
    several = [(id_, one) for id_, one in zip(ids, patches, strict=True) if len(one.kept) > 1]
    counts = sorted({len(one.kept) for _, one in several})
    times = f"{counts[0]}" if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"
    worst, most = max(several, key=lambda pair: pair[1].spread)
    mean = float(np.mean([one.spread for _, one in several]))
    some = ", ".join(id_ for id_, _ in several[:5])
    some += f" and {len(several) - 5} more" if len(several) > 5 else ""
    words = (
        f"stated more than once and averaged: {some} ({times} readings each, spread "
        f"{mean:.2f} ΔE2000 mean, {most.spread:.2f} at patch {worst})"
    )
    left = [f"{id_} ({int((~one.kept).sum())})" for id_, one in several if not one.kept.all()]
    if left:
        more = f" and {len(left) - 8} more" if len(left) > 8 else ""
        words += f"; left out as outliers: {', '.join(left[:8])}{more}"
    return words
