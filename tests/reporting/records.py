"""Hand-made reports: small, and with texts that a page must not take for markup."""

from __future__ import annotations

from colormatch.standards.tolerances import levels_reached, tolerance_set
from colormatch.verdict import (
    Advice,
    Box,
    ColourReport,
    Finding,
    JobReport,
    Kind,
    PatchReport,
    Spread,
    StripReport,
    TileReport,
)

EYE = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def colour(mean: float = 0.6) -> ColourReport:
    """Colour figures in which every number can be told from the others."""
    return ColourReport(
        fitted=Spread(mean=mean - 0.1, p95=1.31, largest=2.22),
        left_out=Spread(mean=mean, p95=1.43, largest=2.44),
        own=Spread(mean=0.37, p95=1.17, largest=2.07),
        gains=(1.0, 0.97, 0.912),
        fall_off=(-1.7, 2.6),
        scattered=1.9,
        scattered_by_reach={"3 mm": 0.4, "30 mm": 1.5},
        scattered_dark=23.0,
        curve={"power 2.21": 0.82, "sRGB shape ^1.01": 0.18},
        matrix=EYE,
        own_matrix=EYE,
        departure=0.14,
        departure_noise=0.08,
    )


def strip() -> StripReport:
    """Give a strip with one mark and one patch missing."""
    return StripReport(
        layout="strip-long", x=94.0, y=199.0, turn=0.6, marks_seen=3, marks=4, residual_px=0.25,
        ppi=(300.4, 301.1), patches_used=2, patches=3,
    )  # fmt: skip


def patches() -> tuple[PatchReport, ...]:
    """Give two patches read and one covered."""
    return (
        PatchReport(id="A01", wanted=(50, 0, 0), scanned=(51, 0, 1), fitted=1.1, left_out=1.6),
        PatchReport(id="B01", wanted=(60, 40, 20), scanned=(60, 41, 20), fitted=0.3, left_out=0.4),
        PatchReport(
            id="C01", wanted=(20, 0, 0), scanned=None, fitted=None, left_out=None, note="covered"
        ),
    )


def tile(
    name: str = "/scans/<b>.tif",
    advice: Advice = Advice.USE,
    findings: tuple[Finding, ...] = (),
    mean: float = 0.6,
    error: str | None = None,
) -> TileReport:
    """Give a whole tile; its name is markup if a page lets it."""
    return TileReport(
        scan=name,
        width=2000,
        height=3000,
        bits=16,
        format="tiff",
        ppi=(300.0, 300.0),
        advice=advice,
        strips=(strip(),),
        colour=colour(mean),
        patches=patches(),
        findings=findings,
        assumed=("darker tones are <i>extrapolated</i>",),
        outcome=levels_reached(tolerance_set("matched"), {"mean_de00": mean, "p95_de00": 1.43}),
        error=error,
    )


def finding(
    advice: Advice,
    text: str = "the strip is bent & dirty",
    step: str = "press it flat",
    places: tuple[Box, ...] = (),
    hint: bool = False,
) -> Finding:
    """Give a finding that was measured."""
    return Finding(
        kind=Kind.STRIP_BENT, advice=advice, text=text, next_step=step, measure=0.213, unit="mm",
        limit=0.15, places=places, hint=hint,
    )  # fmt: skip


def report(*tiles: TileReport, command: str = "check", kind: str = "measured") -> JobReport:
    """Put tiles together to a report."""
    return JobReport(
        command=command,
        reference="strip.txt",
        reference_kind=kind,
        tolerance="matched",
        tiles=tiles or (tile(),),
        assumed=("light is <u>even</u>",),
    )
