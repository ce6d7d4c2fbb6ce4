"""What the readings say is wrong with a tile, and what to do at the scanner."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from colormatch.fitting.judging import DEPARTURE_FACTOR, DEPARTURE_FLOOR
from colormatch.job.fit import FittedTile
from colormatch.job.scale import scale_advice
from colormatch.job.scan_findings import scan_findings
from colormatch.job.strip_findings import strip_box, strip_findings
from colormatch.job.tiles import measured_ppi
from colormatch.model import StripReading
from colormatch.standards.tolerances import Outcome
from colormatch.verdict import Advice, Finding, Kind

SCALE_LIMIT = 1.0
"""Percent by which stated and measured resolution may differ (FADGI 2016, 4-star)."""
WAVES_MM = 0.14
"""Distance by which a carriage's waves of 0.05 mm may move two marks apart, with room."""
FALL_OFF_LIMIT = 5.0
"""Percent of light lost at a strip's end above which the light is called uneven: where FADGI's
(2016) two-star level ends."""
SCATTER_LIMIT = 6.5
"""Percent, all reaches together; flatbeds scatter 1 to 3 % of the surrounding light and light
the page anew with what it sends back, which the fit counts as well: up to 6 % is ordinary."""
GREYS_WORSE = 1.15
"""Ratio of the greys' misfit to the colours' from which another print is likelier than a lamp."""
OTHER_PRINT = 2.0
"""Mean CIEDE2000 from which this ratio is asked: filters that tell colours apart badly may make
greys miss as well, but by less."""
OTHER_SHEET = 5.0
"""Mean CIEDE2000 on clean patches that no lamp explains."""
NARROW_LAMP = 1.6
"""Mean CIEDE2000 on clean patches above which a lamp of narrow lines spoils colour."""
NARROW_SAID = 1.35
"""The same from which it is told, if colours miss more than greys: white lamps leave up to 1.27,
three colours 1.45 (demo)."""


GUESSES = (Kind.NARROW_LAMP, Kind.STRIP_OTHER_SHEET)
"""What a misfit of clean patches may come from."""


def findings_of(fitted: FittedTile, outcome: Outcome) -> tuple[Finding, ...]:
    """List everything noticed in one tile, gravest first."""
    looks: tuple[Callable[[FittedTile], Finding | None], ...] = (
        _departs,
        _scale,
        _uneven,
        _scattering,
        _misfit,
    )
    found = strip_findings(fitted.tile)
    found += [finding for look in looks if (finding := look(fitted)) is not None]
    if fitted.tile.inspected is not None:
        found += scan_findings(fitted.tile.inspected)
    if any(one.advice is Advice.RESCAN and not one.hint for one in found):
        # What is proven explains the misfit: no guess about lamp or print beside it.
        found = [one for one in found if not (one.hint and one.kind in GUESSES)]
    missed = _tolerance(outcome, nominal=is_nominal(fitted))
    if missed and _would_come_out_the_same(outcome, found):
        missed = [_not_the_scan(one) for one in missed]
    return gravest_first([*missed, *one_each(found)])


def gravest_first(found: Sequence[Finding]) -> tuple[Finding, ...]:
    """Order findings, those of one advice as they come."""
    gravest = list(Advice)[::-1]
    return tuple(sorted(found, key=lambda f: gravest.index(f.advice)))


def with_proven(alone: Sequence[Finding], proven: Sequence[Finding]) -> tuple[Finding, ...]:
    """Add what several scans prove to what one shows, in place of its hints of the same kinds."""
    kinds = {one.kind for one in proven}
    kept = [one for one in alone if not (one.hint and one.kind in kinds)]
    return gravest_first([*kept, *proven])


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


def _tolerance(outcome: Outcome, *, nominal: bool) -> list[Finding]:
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
            # No print has its nominal colours: the scan is not to blame.
            advice=Advice.USE if nominal else Advice.RESCAN,
            text=f"above the figures of {outcome.tolerance_set.title}: {text}"
            + ("; but no print has exactly its nominal colours" if nominal else ""),
            next_step="have the strip measured and give the file with --reference"
            if nominal
            else "check that the strip lies flat and clean, that automatic corrections are "
            "off and that the reference belongs to this very print, then scan again",
            measure=missed[0].value,
            unit=missed[0].metric.unit,
            limit=missed[0].tolerance.nearest(missed[0].value or 0.0),
        )
    ]


def _would_come_out_the_same(outcome: Outcome, found: Sequence[Finding]) -> bool:
    """Whether clean patches miss in colour alone, by what lamp, filters or reference cause."""
    missed = [c.metric.unit for c in outcome.shown if c.passed is False]
    guessed = any(one.kind in GUESSES for one in found)
    faulty = any(one.advice is Advice.RESCAN for one in found)
    return guessed and not faulty and all(unit == "ΔE" for unit in missed)


def _not_the_scan(missed: Finding) -> Finding:
    return replace(
        missed,
        advice=Advice.CARE,
        text=f"{missed.text}; the patches are clean, so another scan would come out the same",
        next_step="make sure that the reference belongs to this very print; if it does, the "
        "scanner cannot tell these inks better: teach it your own paints (target --swatches), "
        "or use another scanner where colour matters most",
    )


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
        f"{abs(o):.1f} % too {'low' if o > 0 else 'high'} {name} the scan"
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


def _misfit(fitted: FittedTile) -> Finding | None:
    """Tell a reference of another print from a lamp of narrow lines, as far as patches can.

    Another print is off in its greys as well, or more; under three narrow lights
    greys come out better than colours. That shows where all patches are trusted alike.
    """
    mean = float(np.mean(fitted.judgement.alike))
    if mean <= NARROW_SAID or is_nominal(fitted):
        return None
    neutral = fitted.tile.readings.neutral
    greys, colours = (
        float(np.mean(fitted.judgement.alike[which])) if which.any() else 0.0
        for which in (neutral, ~neutral)
    )
    if mean > OTHER_SHEET or (mean > OTHER_PRINT and greys > GREYS_WORSE * colours):
        return _other_sheet(fitted, mean)
    return _narrow_lamp(mean) if mean > NARROW_LAMP or greys < colours else None


def is_nominal(fitted: FittedTile) -> bool:
    """Tell whether the strip's values were never measured: then every print misses them."""
    return any(one.kind != "measured" for one in fitted.tile.references)


def _other_sheet(fitted: FittedTile, mean: float) -> Finding:
    return Finding(
        kind=Kind.STRIP_OTHER_SHEET,
        advice=Advice.RESCAN if mean > OTHER_SHEET else Advice.CARE,
        text="the patches are clean but, even with the matrix that suits them best, miss the "
        f"reference by {mean:.1f} ΔE2000 on average, greys as much as colours: the reference "
        "probably belongs to another print of this strip",
        next_step="give the reference that was measured from this very sheet, or have this sheet "
        "measured; a strip that has faded gives the same picture",
        measure=mean,
        unit="ΔE2000",
        limit=NARROW_LAMP,
        places=(strip_box(fitted.tile.strips[0]),),
        hint=True,
    )


def _narrow_lamp(mean: float) -> Finding:
    return Finding(
        kind=Kind.NARROW_LAMP,
        advice=Advice.CARE if mean > NARROW_LAMP else Advice.USE,
        text="the patches are clean but, even with the matrix that suits them best, off by "
        f"{mean:.1f} ΔE2000 on average, as under a lamp made of three narrow colours, with which "
        "paints of the same colour can read differently",
        next_step="nothing at the scanner changes this; use a scanner with a white lamp where "
        "colour matters most",
        measure=mean,
        unit="ΔE2000",
        limit=NARROW_SAID,
        hint=True,
    )
