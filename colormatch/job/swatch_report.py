"""What the painter's own paints changed, as a record and in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from colormatch.colour.spaces import lab_from_xyz
from colormatch.fitting.deciding import (
    LEAST_COVER,
    LEAST_GAIN,
    LEAST_PAINTS,
    LEAST_PLAIN_COVER,
    LEAST_PLAIN_GAIN,
    Decision,
    Model,
    WhyNot,
)
from colormatch.fitting.maps import TERMS
from colormatch.fitting.paints import PLENTY, MapFit, Rows
from colormatch.job.fit import FittedTile
from colormatch.job.report import spread, tile_report
from colormatch.job.swatches import Swatches
from colormatch.model import FloatArray
from colormatch.painted import MapReport, PaintReport, SwatchReport
from colormatch.verdict import Kind

DOUBTFUL = 0.5
"""Robust weight below which a paint is named."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Painted:
    """The sheet of own paints, and its scan as fitted with the tiles."""

    swatches: Swatches
    fitted: FittedTile


def swatch_report(
    painted: Painted, fitted: Sequence[FittedTile], tolerance: str
) -> SwatchReport | None:
    """Report the sheet of paints; None if its scan could not be fitted."""
    decision, swatches = painted.fitted.decision, painted.swatches
    if decision is None:
        return None
    served = tuple(f.tile.readings.name for f in fitted if f.decision is decision)
    sheet = tile_report(painted.fitted, tolerance)
    coefficients = decision.map.coefficients
    return SwatchReport(
        scan=str(swatches.scan),
        reference=str(swatches.values.path),
        sheet=swatches.sheet.layout.name,
        paints=len(swatches.readings.ids),
        left_out=swatches.left_out,
        doubts=doubts(decision),
        tiles=served,
        model=decision.model.value,
        why=why(decision) if served else "no tile was scanned with the same settings as the sheet",
        gain=decision.gain,
        cover=decision.cover,
        maps=tuple(map_report(model, fit, decision.rows) for model, fit in decision.fits.items()),
        matrix=_rows(decision.map.matrix),
        terms=() if coefficients is None else TERMS,
        coefficients=() if coefficients is None else _rows(coefficients),
        patches=paint_patches(decision),
        remarks=tuple(
            f"{f.text}; {f.next_step}" for f in sheet.findings if f.kind is not Kind.TOLERANCE
        ),
    )


def map_report(model: Model, fit: MapFit, rows: Rows) -> MapReport:
    """Give one map's errors on ink and on paint."""
    ink, paint = ~rows.paint, rows.paint
    return MapReport(
        model=model.value,
        ink=spread(fit.fitted[ink]),
        ink_left_out=spread(fit.left_out[ink]),
        paint=spread(fit.fitted[paint]),
        paint_left_out=spread(fit.left_out[paint]),
        strip_weight=fit.strip_weight,
        tie=fit.tie,
    )


def why(decision: Decision) -> str:
    """Say why this map is in use and no other."""
    if decision.why_not is None:
        return (
            f"it takes {decision.gain or 0:.0%} off the error on paints left out "
            f"({LEAST_GAIN:.0%} are asked), and the paints cover {decision.cover or 0:.0%} of the "
            f"picture's hues ({LEAST_COVER:.0%} are asked)"
        )
    return f"{why_plain(decision)}; {why_no_roots(decision)}"


def why_plain(decision: Decision) -> str:
    """Say which 3x3 serves, and by what."""
    cover = decision.cover
    if cover is not None and cover < LEAST_PLAIN_COVER:
        return (
            f"the paints cover only {cover:.0%} of the picture's hues, so they are not its own "
            f"({LEAST_PLAIN_COVER:.0%} are asked): paint what the picture is made of"
        )
    if Model.PAINTS not in decision.fits:
        return f"{LEAST_PAINTS} paints are asked"
    paint = decision.rows.paint
    own, joint = (
        float(decision.fits[model].left_out[paint].mean()) for model in (Model.STRIP, Model.PAINTS)
    )
    if decision.model is Model.STRIP:
        return (
            f"on paints left out the strip's own 3x3 is off by {own:.2f} ΔE2000 and one fitted to "
            f"strip and paints by {joint:.2f}, not clearly less ({LEAST_PLAIN_GAIN:.0%} are asked)"
        )
    return f"on paints left out it is off by {joint:.2f} ΔE2000, the strip's own 3x3 by {own:.2f}"


def why_no_roots(decision: Decision) -> str:
    """Say what kept the root-polynomial from being used."""
    paints, gain = int(decision.rows.paint.sum()), decision.gain or 0.0
    if decision.why_not is WhyNot.FEW:
        return f"a root-polynomial asks for {PLENTY} paints or more (here {paints})"
    if decision.why_not is WhyNot.FLAT:
        return "a root-polynomial asks for paints of several hues, and these lie along one"
    if decision.why_not is WhyNot.COVER:
        return (
            f"a root-polynomial asks that the paints cover {LEAST_COVER:.0%} of the picture's "
            f"hues (here {decision.cover or 0:.0%}): paint more of what the picture is made of"
        )
    if gain < 0:
        return "a root-polynomial would add to that error"
    return f"a root-polynomial would take off only {gain:.0%} more ({LEAST_GAIN:.0%} are asked)"


def doubts(decision: Decision) -> tuple[str, ...]:
    """Name paints that contradict the others."""
    rows, fit = decision.rows, decision.fits[decision.model]
    return tuple(
        f"{rows.ids[i]} contradicts the others by {fit.fitted[i]:.1f} ΔE2000 and counts less: "
        "check its number, its values and its surface"
        for i in np.flatnonzero(rows.paint & (rows.trust < DOUBTFUL))
    )


def paint_patches(decision: Decision) -> tuple[PaintReport, ...]:
    """Give every paint as it should be and as the map in use sees it."""
    rows, fit = decision.rows, decision.fits[decision.model]
    wanted = lab_from_xyz(rows.xyz)
    seen = lab_from_xyz(np.maximum(fit.map.xyz(rows.light), 0.0))
    return tuple(
        PaintReport(
            id=rows.ids[i],
            wanted=_triple(wanted[i]),
            scanned=_triple(seen[i]),
            fitted=float(fit.fitted[i]),
            left_out=float(fit.left_out[i]),
        )
        for i in np.flatnonzero(rows.paint)
    )


def paint_notes(report: SwatchReport) -> tuple[str, ...]:
    """Say what was assumed about the paints."""
    notes = [
        "the tolerance is measured on the strip's inks by the strip's own 3x3, so that it tells "
        "of the scan"
        + (
            ""
            if report.model == Model.STRIP.value
            else "; under the map fitted with the paints, which makes the pictures, these inks are "
            f"off by {report.chosen.ink_left_out.mean:.2f} ΔE2000 mean"
        ),
        "the paints' figures are a little flattering: the weights were chosen by them; paint that "
        "is not on the sheet may be farther off",
    ]
    if report.coefficients:
        notes.append(
            "outside the hues of the paints the root-polynomial fades into the 3x3 of strip and "
            f"paints ({1 - (report.cover or 0):.1%} of the picture); an input profile holds that "
            "3x3 alone"
        )
    return tuple(notes)


def _rows(matrix: FloatArray) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(v) for v in row) for row in matrix)


def _triple(values: FloatArray) -> tuple[float, float, float]:
    a, b, c = (float(v) for v in values)
    return a, b, c
