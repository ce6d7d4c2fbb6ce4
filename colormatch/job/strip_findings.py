"""What is wrong with the strip as it lay on the glass, and where."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from colormatch.finding.reading import MOST_CLIPPED
from colormatch.job.tiles import Tile, measured_ppi
from colormatch.model import FloatArray, StripReading
from colormatch.verdict import Advice, Box, Finding, Kind

MANY_UNUSED = 0.25
"""Share of unusable patches above which the strip should be cleared and scanned again."""
WHOLE_PATCH, EVEN = 0.93, 0.02
"""Share of a patch's pixels of one colour, at least, and difference of its halves, encoded, at
most, of a clean patch: 0.99 and 0.003 are usual."""
POOR_JPEG = 75.0
"""Quality of a JPEG below which its blocks look like spots."""
FEW_SOILED = 2
"""Patches with a hair or a speck of dust on them that any glass has."""
MANY_SOILED = 0.15
"""Share of soiled patches above which the strip should be cleaned and scanned again."""
BENT_MM = 0.15
"""RMS distance of the marks from a flat sheet, mm, above which the strip is not flat."""


def strip_findings(tile: Tile) -> list[Finding]:
    """List what was noticed about a tile's strips."""
    soiled = None if _grainy(tile) else _soiled(tile.strips)
    found = [_both(_covered(tile.strips), soiled)]
    found += [look(tile.strips) for look in (_clipped, _blocked, _bent)]
    return [finding for finding in found if finding is not None]


def _both(covered: Finding | None, soiled: Finding | None) -> Finding | None:
    """Make one finding of patches left out and patches with spots: it is the same dirt."""
    if covered is None or soiled is None:
        return covered or soiled
    share = (covered.measure or 0.0) + (soiled.measure or 0.0)
    many = share > MANY_SOILED * 100
    return replace(
        covered,
        advice=Advice.RESCAN if many else covered.advice,
        text=f"{covered.text}; {soiled.text}",
        measure=share,
        limit=MANY_SOILED * 100 if many else None,
        places=covered.places + soiled.places,
    )


def _grainy(tile: Tile) -> bool:
    """Tell whether noise or compression makes every patch look spotted."""
    seen = tile.inspected
    if seen is None:
        return False
    noisy = seen.noise is not None and seen.noise.beyond
    return noisy or (seen.quality is not None and seen.quality < POOR_JPEG)


def _covered(strips: Sequence[StripReading]) -> Finding | None:
    for strip in strips:
        lost = np.flatnonzero(~strip.usable & (strip.clipped <= MOST_CLIPPED))
        if len(lost):
            many = len(lost) > MANY_UNUSED * len(strip.usable)
            return Finding(
                kind=Kind.STRIP_COVERED,
                advice=Advice.RESCAN if many else Advice.CARE,
                text=f"{len(lost)} of {len(strip.usable)} patches are covered or dirty and were "
                f"left out: {named(strip, lost)}",
                next_step="wipe the strip and the glass, and move the strip clear of the painting",
                measure=len(lost) / len(strip.usable) * 100,
                unit="% of the patches",
                limit=MANY_UNUSED * 100 if many else None,
                places=patch_boxes(strip, lost),
            )
    return None


def _soiled(strips: Sequence[StripReading]) -> Finding | None:
    """Name patches that were read, but are not of one colour."""
    for strip in strips:
        uneven = (strip.inliers < WHOLE_PATCH) | (np.abs(strip.halves).max(axis=(1, 2)) > EVEN)
        spots = np.flatnonzero(uneven & strip.usable)
        if not len(spots):
            continue
        many = len(spots) > MANY_SOILED * len(strip.usable)
        few = len(spots) <= FEW_SOILED
        return Finding(
            kind=Kind.STRIP_COVERED,
            advice=Advice.RESCAN if many else Advice.USE if few else Advice.CARE,
            text=f"spots, stains or hairs lie on {len(spots)} of {len(strip.usable)} patches "
            f"({named(strip, spots)}); only what is clean of them was read",
            next_step="wipe the strip and the glass; print a new strip if the spots stay",
            measure=len(spots) / len(strip.usable) * 100,
            unit="% of the patches",
            places=patch_boxes(strip, spots),
        )
    return None


def _clipped(strips: Sequence[StripReading]) -> Finding | None:
    for strip in strips:
        lost = np.flatnonzero((strip.clipped > MOST_CLIPPED) & (strip.rgb.max(axis=1) > 0.5))
        if len(lost):
            return _lost_patches(strip, lost, Kind.CLIPPED, "light", paper_alone(strip, lost))
    return None


def _blocked(strips: Sequence[StripReading]) -> Finding | None:
    for strip in strips:
        lost = np.flatnonzero((strip.clipped > MOST_CLIPPED) & (strip.rgb.max(axis=1) <= 0.5))
        if len(lost):
            return _lost_patches(strip, lost, Kind.BLOCKED, "dark", few=False)
    return None


def _bent(strips: Sequence[StripReading]) -> Finding | None:
    for strip in strips:
        ppi = float(np.mean(measured_ppi(strip)))
        off = strip.marks_residual / ppi * 25.4
        if off > BENT_MM:
            what = "marks" if strip.marks_px else "patches"
            return Finding(
                kind=Kind.STRIP_BENT,
                advice=Advice.CARE,
                text=f"the strip's {what} lie {off:.2f} mm from where a flat strip has them",
                next_step="press the strip flat on the glass; check that it was printed at 100 %",
                measure=off,
                unit="mm",
                limit=BENT_MM,
                places=(strip_box(strip),),
            )
    return None


def strip_box(strip: StripReading) -> Box:
    """Give the upright box round a strip."""
    size = np.array([strip.layout.width, strip.layout.height])
    return box_round(strip, np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size)


def patch_boxes(strip: StripReading, which: Iterable[int]) -> tuple[Box, ...]:
    """Give the upright boxes round some of a strip's patches."""
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    patches = [strip.layout.patches[i] for i in which]
    return tuple(box_round(strip, unit * (p.width, p.height) + (p.x, p.y)) for p in patches)


def box_round(strip: StripReading, corners: FloatArray) -> Box:
    """Give the upright box in the scan round points of the strip, (N, 2) mm."""
    px = corners @ strip.px_from_mm[:, :2].T + strip.px_from_mm[:, 2] + 0.5
    mm = px / measured_ppi(strip) * 25.4
    (left, top), (right, bottom) = mm.min(axis=0), mm.max(axis=0)
    return float(left), float(top), float(right - left), float(bottom - top)


def named(strip: StripReading, which: Sequence[int] | NDArray[np.intp]) -> str:
    """Name the first few of some patches."""
    names = [strip.layout.patches[i].id for i in which]
    return f"{', '.join(names[:6])}{' …' if len(names) > 6 else ''}"


def paper_alone(strip: StripReading, which: NDArray[np.intp]) -> bool:
    """Tell whether only bare paper is concerned: the painting may hold nothing as light."""
    return all(strip.layout.patches[i].role == "paper" for i in which)


def _lost_patches(
    strip: StripReading, which: NDArray[np.intp], kind: Kind, tone: str, few: bool
) -> Finding:
    many = f"{len(which)} patches" if len(which) > 1 else "one patch"
    text = (
        f"the scan has no room for tones as {tone} as {many} of the strip ({named(strip, which)})"
    )
    return Finding(
        kind=kind,
        advice=Advice.CARE if few else Advice.RESCAN,
        text=f"{text}, its bare paper; whatever in the painting is as light is lost"
        if few
        else f"{text}: they are lost in the painting too",
        next_step="turn automatic exposure and levels off, or "
        + ("lower the exposure" if tone == "light" else "set the black point to 0")
        + ", and scan all tiles again with the same settings",
        measure=float(strip.clipped[which].max()) * 100,
        unit="% of a patch",
        limit=MOST_CLIPPED * 100,
        places=patch_boxes(strip, which),
    )
