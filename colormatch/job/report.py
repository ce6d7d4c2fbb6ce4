"""From a fitted tile to the record a report is made from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np

from colormatch.colour.spaces import lab_from_xyz
from colormatch.finding.reading import MOST_CLIPPED
from colormatch.fitting.flare import REACHES_MM
from colormatch.fitting.judging import difference
from colormatch.fitting.metrics import measured_metrics
from colormatch.job.findings import advice_of, findings_of, gravest_first
from colormatch.job.fit import FittedTile
from colormatch.job.reference_findings import other_sheet_finding, reference_findings
from colormatch.job.tiles import Tile, measured_ppi
from colormatch.model import FloatArray, Scan, StripReading
from colormatch.standards.tolerances import levels_reached, tolerance_set
from colormatch.verdict import (
    Advice,
    ColourReport,
    Finding,
    Kind,
    PatchReading,
    PatchReport,
    Spread,
    StripReport,
    TileReport,
)


def tile_report(fitted: FittedTile, tolerance: str) -> TileReport:
    """Put together what is known about one tile."""
    tile = fitted.tile
    outcome = levels_reached(tolerance_set(tolerance), metrics_of(fitted))
    today = date.today()
    about = [f for one in tile.references[:1] for f in reference_findings(one, today)]
    pairs = zip(tile.strips, tile.references, strict=True)
    about += [f for strip, one in pairs if (f := other_sheet_finding(strip, one)) is not None]
    findings = gravest_first([*findings_of(fitted, outcome), *about])
    return TileReport(
        **scan_facts(tile.scan),
        advice=advice_of(findings),
        strips=tuple(strip_report(strip) for strip in tile.strips),
        colour=colour_report(fitted),
        patches=patch_reports(fitted),
        findings=findings,
        assumed=assumptions_of(fitted),
        outcome=outcome,
    )


def failed_report(path: str, error: str, kind: Kind | None = None) -> TileReport:
    """Report a scan that could not be processed; ``kind`` if its strip is to blame."""
    findings: tuple[Finding, ...] = ()
    if kind is not None:
        text, _, step = error.removeprefix(f"{path}: ").partition(": ")
        findings = (Finding(kind=kind, advice=Advice.RESCAN, text=text, next_step=step),)
    return TileReport(
        scan=path, width=0, height=0, bits=0, format="", ppi=None, advice=Advice.RESCAN,
        error=error, findings=findings,
    )  # fmt: skip


def without_strip_report(scan: Scan, reason: str) -> TileReport:
    """Report a scan without a strip that a merge used all the same."""
    finding = Finding(
        kind=Kind.STRIP_MISSING,
        advice=Advice.CARE,
        text=f"no strip could be read ({reason}): this tile's colour was taken from its "
        "neighbours through the overlaps, which is less certain",
        next_step="lay a strip beside this tile too and scan it again if there is room",
    )
    assumed = [
        "without a strip, a tile's tone curve, scattered light and matrix are taken to be those of "
        "the tiles with one",
        *scan.notes,
    ]
    if scan.ppi is None:
        assumed.append("without a stated resolution either, it is taken to be theirs too")
    return TileReport(
        **scan_facts(scan), advice=Advice.CARE, findings=(finding,), assumed=tuple(assumed)
    )


def scan_facts(scan: Scan) -> dict[str, Any]:
    """Give what the file itself says."""
    return {
        "scan": str(scan.path),
        "width": scan.width,
        "height": scan.height,
        "bits": scan.bits,
        "format": scan.format,
        "ppi": scan.ppi,
        "device": scan.device,
    }


def strip_report(strip: StripReading) -> StripReport:
    """Where a strip lies, in millimetres and degrees."""
    matrix = strip.px_from_mm
    middle = matrix[:, :2] @ np.array([strip.layout.width, strip.layout.height]) / 2 + matrix[:, 2]
    ppi = measured_ppi(strip)
    return StripReport(
        layout=strip.layout.name,
        x=float(middle[0] / ppi[0] * 25.4),
        y=float(middle[1] / ppi[1] * 25.4),
        turn=math.degrees(math.atan2(matrix[1, 0], matrix[0, 0])) % 360.0,
        marks_seen=len(strip.marks_px),
        marks=len(strip.layout.marks),
        residual_px=float(strip.marks_residual),
        ppi=ppi,
        serial=strip.serial,
        symbol=strip.symbol,
        patches_used=int(strip.usable.sum()),
        patches=len(strip.usable),
    )


def spread(values: FloatArray) -> Spread:
    """Mean, 95th percentile and largest."""
    return Spread(
        mean=float(values.mean()),
        p95=float(np.percentile(values, 95)),
        largest=float(values.max()),
    )


def colour_report(fitted: FittedTile) -> ColourReport:
    """One tile's colour figures."""
    solution, judgement = fitted.choice.solution, fitted.judgement
    ends = solution.lamp(fitted.index, np.array([-1.0, 1.0]))
    red, green, blue = (float(v) for v in solution.gains[fitted.index])
    return ColourReport(
        fitted=spread(judgement.fitted),
        left_out=spread(judgement.left_out),
        own=spread(judgement.own_fitted),
        gains=(red, green, blue),
        fall_off=(float(ends[0] - 1) * 100, float(ends[1] - 1) * 100),
        scattered=float(solution.scatter.sum()) * 100,
        scattered_by_reach={
            f"{reach:g} mm": float(share) * 100
            for reach, share in zip(REACHES_MM, solution.scatter, strict=True)
        },
        scattered_dark=removed_from_darks(fitted),
        curve=fitted.choice.shares,
        matrix=_rows(solution.xyz_from_rgb),
        own_matrix=_rows(judgement.own_matrix),
        departure=judgement.departure,
        departure_noise=judgement.departure_noise,
    )


def _rows(matrix: FloatArray) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(v) for v in row) for row in matrix)


def removed_from_darks(fitted: FittedTile) -> float:
    """Percent of their light that the darkest hundredth of the scan loses."""
    around = fitted.tile.surroundings
    solution = fitted.choice.solution
    light = solution.curve.linear(around.picture)
    scattered = np.einsum("k,khwc->hwc", solution.scatter, around.maps(solution.curve.linear))
    level = light.mean(axis=2)
    dark = level <= np.percentile(level, 1)
    return float(np.clip(scattered[dark].mean() / max(light[dark].mean(), 1e-6), 0.0, 1.0)) * 100


def metrics_of(fitted: FittedTile) -> dict[str, float | list[float]]:
    """Every metric a strip can show; colour from patches left out of the fit."""
    tile, judgement = fitted.tile, fitted.judgement
    return measured_metrics(
        judgement.left_out_xyz,
        tile.readings.xyz,
        neutral=tile.readings.neutral,
        along=tile.readings.along,
        noise_l=noise_lightness(fitted),
        scale_error=scale_error(tile),
    )


def noise_lightness(fitted: FittedTile) -> FloatArray:
    """Give the standard deviation of L* inside each patch, from its encoded spread."""
    tile, solution = fitted.tile, fitted.choice.solution
    rgb = tile.readings.rgb
    sigma = np.array([tile.strips[s].spread[p] for s, p in tile.rows])
    nothing = np.zeros((len(rgb), len(REACHES_MM), 3))
    sides = [
        lab_from_xyz(
            np.maximum(
                solution.light(fitted.index, np.clip(rgb + sign * sigma, 0, 1), nothing)
                @ solution.xyz_from_rgb.T,
                0.0,
            )
        )[:, 0]
        for sign in (1, -1)
    ]
    result: FloatArray = np.abs(sides[0] - sides[1]) / 2
    return result


def scale_error(tile: Tile) -> float | None:
    """Percent between the stated and the measured resolution, worse axis."""
    if tile.scan.ppi is None:
        return None
    return max(
        abs(seen / said - 1) * 100
        for strip in tile.strips
        for seen, said in zip(measured_ppi(strip), tile.scan.ppi, strict=True)
    )


def patch_reports(fitted: FittedTile) -> tuple[PatchReport, ...]:
    """Every patch of every strip, also those that could not be used."""
    judgement = fitted.judgement
    row_of = {row: i for i, row in enumerate(fitted.tile.rows)}
    seen = lab_from_xyz(np.maximum(judgement.predicted, 0.0))
    readings = patch_readings(fitted)
    reports = []
    for s, strip in enumerate(fitted.tile.strips):
        wanted = lab_from_xyz(fitted.tile.references[s].xyz)
        for p, patch in enumerate(strip.layout.patches):
            i = row_of.get((s, p))
            reports.append(
                PatchReport(
                    id=patch.id,
                    wanted=_triple(wanted[p]),
                    scanned=None if i is None else _triple(seen[i]),
                    fitted=None if i is None else float(judgement.fitted[i]),
                    left_out=None if i is None else float(judgement.left_out[i]),
                    note="" if i is not None else why_unused(strip, p),
                    reading=None if i is None else readings[i],
                )
            )
    return tuple(reports)


def patch_readings(fitted: FittedTile) -> list[PatchReading]:
    """Give what every usable patch sent, in the order of the readings."""
    solution, rgb = fitted.choice.solution, fitted.tile.readings.rgb
    linear = solution.curve.linear(rgb)
    light = fitted.judgement.light * solution.gains[fitted.index]
    return [
        PatchReading(encoded=_triple(a), linear=_triple(b), light=_triple(c))
        for a, b, c in zip(rgb, linear, light, strict=True)
    ]


def why_unused(strip: StripReading, patch: int) -> str:
    """Say why a patch took no part."""
    if strip.clipped[patch] > MOST_CLIPPED:
        return f"clipped ({strip.clipped[patch]:.0%} of its pixels)"
    return "covered, dirty or outside the scan"


def _triple(values: FloatArray) -> tuple[float, float, float]:
    a, b, c = (float(v) for v in values)
    return a, b, c


def assumptions_of(fitted: FittedTile) -> tuple[str, ...]:
    """List what was assumed or extrapolated for this tile."""
    darkest = float(lab_from_xyz(fitted.tile.readings.xyz)[:, 0].min())
    lines = [
        fitted.profile_note,
        f"tones darker than the strip's darkest patch (L* {darkest:.0f}) are extrapolated",
        "the strip's paper is trusted most and its dense inks least, as a scanner cannot tell all "
        "that ink does to light; paper with optical brighteners would tint whites and greys",
        "the light is taken to fall off across the scan as it does along the strip",
        *fitted.tile.scan.notes,
        *fitted.tile.assumed,
    ]
    if fitted.tile.scan.ppi is None:
        lines.append("the file states no resolution: it was taken from the strip's millimetres")
    return tuple(lines)


def tiles_agree(fitted: Sequence[FittedTile]) -> float:
    """Mean CIEDE2000 between tiles over the patches they share, after matching."""
    seen: dict[str, list[FloatArray]] = {}
    for one in fitted:
        for name, xyz in zip(one.tile.readings.ids, one.judgement.predicted, strict=True):
            seen.setdefault(name, []).append(xyz)
    apart = [
        float(difference(a, np.mean(group, axis=0)))
        for group in seen.values()
        if len(group) > 1
        for a in group
    ]
    return float(np.mean(apart)) if apart else 0.0
