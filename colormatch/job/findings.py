"""What the readings say is wrong with a tile, and what to do at the scanner."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from colormatch.finding.reading import MOST_CLIPPED
from colormatch.fitting.judging import DEPARTURE_FACTOR, DEPARTURE_FLOOR
from colormatch.job.fit import FittedTile
from colormatch.job.scale import scale_advice
from colormatch.job.scan_findings import scan_findings
from colormatch.job.tiles import measured_ppi
from colormatch.model import FloatArray, StripReading
from colormatch.standards.tolerances import Outcome
from colormatch.verdict import Advice, Box, Finding, Kind

MANY_UNUSED = 0.25
"""Share of unusable patches above which the strip should be cleared and scanned again."""
BENT_MM = 0.15
"""RMS distance of the marks from a flat sheet, mm, above which the strip is not flat."""
SCALE_LIMIT = 1.0
"""Percent by which stated and measured resolution may differ (FADGI 2016, 4-star)."""
WAVES_MM = 0.14
"""Distance by which a carriage's waves of 0.05 mm may move two marks apart, with room."""
FALL_OFF_LIMIT = 6.0
"""Percent of light lost at a strip's end above which the light is called uneven."""
SCATTER_LIMIT = 5.0
"""Percent; flatbeds scatter 1 to 3 % of the surrounding light."""
NARROW_LAMP = 1.6
"""Mean CIEDE2000 on clean patches above which a lamp of narrow lines is suspected."""


def findings_of(fitted: FittedTile, outcome: Outcome) -> tuple[Finding, ...]:
    """List everything noticed in one tile, gravest first."""
    looks: tuple[Callable[[FittedTile], Finding | None], ...] = (
        _covered,
        _clipped,
        _blocked,
        _bent,
        _departs,
        _scale,
        _uneven,
        _scattering,
        _narrow_lamp,
    )
    found = [finding for look in looks if (finding := look(fitted)) is not None]
    if fitted.tile.inspected is not None:
        found += scan_findings(fitted.tile.inspected)
    missed = _tolerance(outcome)
    return gravest_first([*missed, *one_each(found)])


def gravest_first(found: Sequence[Finding]) -> tuple[Finding, ...]:
    """Order findings, those of one advice as they come."""
    gravest = list(Advice)[::-1]
    return tuple(sorted(found, key=lambda f: gravest.index(f.advice)))


def one_each(found: Sequence[Finding]) -> list[Finding]:
    """Keep the gravest finding of each kind; patches and picture may show the same fault."""
    order = list(Advice)
    best: dict[Kind, Finding] = {}
    for one in found:
        known = best.get(one.kind)
        if known is None or order.index(one.advice) > order.index(known.advice):
            best[one.kind] = one
    return list(best.values())


def advice_of(findings: Sequence[Finding]) -> Advice:
    """Give the gravest advice among findings."""
    order = list(Advice)
    return max((f.advice for f in findings), key=order.index, default=Advice.USE)


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


def _tolerance(outcome: Outcome) -> list[Finding]:
    if outcome.level is not None:
        return []
    missed = [c for c in outcome.shown if c.passed is False and c.value is not None]
    text = "; ".join(
        f"{c.metric.title} {c.value:.2f} {c.metric.unit} (wanted {c.tolerance.limit})"
        for c in missed
    )
    return [
        Finding(
            kind=Kind.TOLERANCE,
            advice=Advice.RESCAN,
            text=f"above the figures of {outcome.tolerance_set.title}: {text}",
            next_step="check that the strip lies flat and clean, that automatic corrections are "
            "off and that the reference belongs to this very print, then scan again",
            measure=missed[0].value,
            unit=missed[0].metric.unit,
            limit=missed[0].tolerance.nearest(missed[0].value or 0.0),
        )
    ]


def _covered(fitted: FittedTile) -> Finding | None:
    for strip in fitted.tile.strips:
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


def _clipped(fitted: FittedTile) -> Finding | None:
    for strip in fitted.tile.strips:
        lost = np.flatnonzero((strip.clipped > MOST_CLIPPED) & (strip.rgb.max(axis=1) > 0.5))
        if len(lost):
            return _lost_patches(strip, lost, Kind.CLIPPED, "light", paper_alone(strip, lost))
    return None


def _blocked(fitted: FittedTile) -> Finding | None:
    for strip in fitted.tile.strips:
        lost = np.flatnonzero((strip.clipped > MOST_CLIPPED) & (strip.rgb.max(axis=1) <= 0.5))
        if len(lost):
            return _lost_patches(strip, lost, Kind.BLOCKED, "dark", few=False)
    return None


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


def _bent(fitted: FittedTile) -> Finding | None:
    for strip in fitted.tile.strips:
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


def _departs(fitted: FittedTile) -> Finding | None:
    if not fitted.judgement.departs:
        return None
    noise = fitted.judgement.departure_noise
    return Finding(
        kind=Kind.OTHER_SETTINGS,
        advice=Advice.CARE,
        text="this tile's own colour matrix differs from the other tiles' by "
        f"{fitted.judgement.departure:.2f} ΔE2000, more than the noise of "
        f"{noise:.2f} explains: it was scanned with other settings",
        next_step="scan all tiles in one go with the same settings, automatic corrections off",
        measure=fitted.judgement.departure,
        unit="ΔE2000",
        limit=max(DEPARTURE_FACTOR * noise, DEPARTURE_FLOOR),
    )


def other_settings() -> Finding:
    """Name a tile whose tone curve differs from that of the largest group."""
    return Finding(
        kind=Kind.OTHER_CURVE,
        advice=Advice.CARE,
        text="this tile has another tone curve than the others: it was fitted on its own, so it "
        "agrees with them less closely",
        next_step="turn automatic corrections off and scan all tiles with the same settings",
    )


def _scale(fitted: FittedTile) -> Finding | None:
    said = fitted.tile.scan.ppi
    if said is None:
        return None
    strip = fitted.tile.strips[0]
    seen = measured_ppi(strip)
    off = [(a / b - 1) * 100 for a, b in zip(seen, said, strict=True)]
    beyond = [abs(o) / limit for o, limit in zip(off, scale_limits(strip), strict=True)]
    if max(beyond) <= 1:
        return None
    worst = int(np.argmax(beyond))
    ways = [
        f"{name} by {abs(o):.1f} % too {'low' if o > 0 else 'high'}"
        for name, o, b in zip(("across", "down"), off, beyond, strict=True)
        if b > 1
    ]
    return Finding(
        kind=Kind.SCALE,
        advice=Advice.CARE,
        text=f"the file states {said[0]:.0f} x {said[1]:.0f} ppi, the strip's millimetres give "
        f"{seen[0]:.1f} x {seen[1]:.1f} ppi: the stated one is {' and '.join(ways)}",
        next_step=scale_advice(seen, said, strip.layout),
        measure=abs(off[worst]),
        unit="%",
        limit=scale_limits(strip)[worst],
        places=(strip_box(strip),),
    )


def scale_limits(strip: StripReading) -> tuple[float, float]:
    """Give the percent by which the resolution may be off across and down the scan.

    A carriage's own waves move each mark a little, which counts for more where
    the marks lie close together.
    """
    marks = np.array([(m.x, m.y) for m in strip.layout.marks if m.id in strip.marks_px])
    turn = strip.px_from_mm[:, :2] / np.linalg.norm(strip.px_from_mm[:, :2], axis=0)
    if not len(marks):
        marks = np.array([(0.0, 0.0), (strip.layout.width, strip.layout.height)])
    spread = np.ptp(marks @ turn.T, axis=0)
    across, down = (
        float(np.hypot(SCALE_LIMIT, 100 * WAVES_MM / max(length, 1.0))) for length in spread
    )
    return across, down


def _uneven(fitted: FittedTile) -> Finding | None:
    ends = fitted.choice.solution.lamp(fitted.index, np.array([-1.0, 1.0]))
    worst = float(np.abs(ends - 1).max()) * 100
    if worst <= FALL_OFF_LIMIT:
        return None
    return Finding(
        kind=Kind.FALL_OFF,
        advice=Advice.CARE,
        text=f"the light changes by {worst:.0f} % from the middle of the strip to its end",
        next_step="let the lamp warm up for a few minutes, clean the glass, and look for a "
        "shadow over the strip",
        measure=worst,
        unit="%",
        limit=FALL_OFF_LIMIT,
        places=(strip_box(fitted.tile.strips[0]),),
    )


def _scattering(fitted: FittedTile) -> Finding | None:
    share = float(fitted.choice.solution.scatter.sum()) * 100
    if share <= SCATTER_LIMIT:
        return None
    return Finding(
        kind=Kind.SCATTERED_LIGHT,
        advice=Advice.CARE,
        text=f"{share:.1f} % of the surrounding light was found scattered over the scan and "
        "removed; that is more than flatbeds usually have",
        next_step="clean the glass on both sides as the maker allows, and lay dark paper round "
        "the painting",
        measure=share,
        unit="%",
        limit=SCATTER_LIMIT,
    )


def _narrow_lamp(fitted: FittedTile) -> Finding | None:
    mean = float(np.mean(fitted.judgement.fitted))
    if mean <= NARROW_LAMP:
        return None
    return Finding(
        kind=Kind.NARROW_LAMP,
        advice=Advice.CARE,
        text=f"the patches are clean but fit only to {mean:.1f} ΔE2000, as under a lamp made of "
        "three narrow colours, with which paints of the same colour can read differently",
        next_step="nothing at the scanner changes this; use a scanner with a white lamp where "
        "colour matters most",
        measure=mean,
        unit="ΔE2000",
        limit=NARROW_LAMP,
        hint=True,
    )
