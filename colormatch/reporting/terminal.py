"""The report as text for a terminal: one line per tile, then what was found."""

from __future__ import annotations

from pathlib import Path

from colormatch.standards.tolerances import Outcome, tolerance_set
from colormatch.verdict import ColourReport, Finding, JobReport, TileReport


def text_report(report: JobReport) -> str:
    """Give the whole report as lines of text.

    Parameters
    ----------
    report : JobReport

    Returns
    -------
    str
        Ends without a line break.
    """
    lines = [line for tile in report.tiles for line in tile_lines(tile)]
    lines += ["", *across_lines(report), *assumed_lines(report)]
    return "\n".join(lines).rstrip()


def tile_lines(tile: TileReport) -> list[str]:
    """One line of verdict, then figures and findings, indented."""
    name = Path(tile.scan).name
    if tile.error is not None:
        return [f"{name}: cannot be used", f"    {tile.error}"]
    lines = [f"{name}: {tile.advice.value}"]
    if tile.colour is not None:
        lines += colour_lines(tile.colour)
    if tile.outcome is not None:
        lines.append(f"    {outcome_line(tile.outcome)}")
    if tile.gamut is not None:
        lines.append(
            f"    {tile.gamut.share:.2%} of the pixels lie outside {tile.gamut.space} and were "
            f"clipped channel by channel (largest change {tile.gamut.largest:.1f} ΔE2000)"
        )
    lines += [line for finding in tile.findings for line in finding_lines(finding)]
    if tile.written is not None:
        lines.append(f"    written: {tile.written}")
    return lines


def colour_lines(colour: ColourReport) -> list[str]:
    """Give the figures of one tile."""
    out, fit = colour.left_out, colour.fitted
    gains = " ".join(f"{(g - 1) * 100:+.1f}" for g in colour.gains)
    return [
        f"    patches left out of the fit: ΔE2000 mean {out.mean:.2f}, P95 {out.p95:.2f}, "
        f"max {out.largest:.2f} (in the fit: {fit.mean:.2f}, {fit.p95:.2f}, {fit.largest:.2f}); "
        "on paint expect 1.5 to 2 times as much",
        f"    light of red, green, blue against the first tile: {gains} %; at the strip's ends "
        f"{colour.fall_off[0]:+.1f} % and {colour.fall_off[1]:+.1f} %; scattered light removed "
        f"{colour.scattered:.1f} % (darkest places {colour.scattered_dark:.0f} % darker)",
    ]


def outcome_line(outcome: Outcome) -> str:
    """Say what level of a tolerance set was reached."""
    title = outcome.tolerance_set.title
    if outcome.level is None:
        return f"measured against the figures of {title}: not reached"
    return f"measured against the figures of {title}: {outcome.level} reached"


def finding_lines(finding: Finding) -> list[str]:
    """Give a finding and its next step."""
    return [f"    - {finding.text}", f"      next: {finding.next_step}"]


def across_lines(report: JobReport) -> list[str]:
    """Say what concerns all tiles."""
    lines = []
    if report.agreement is not None:
        lines.append(
            f"tiles agree on the strip's patches to {report.agreement:.2f} ΔE2000 mean "
            "(0.3 and less is invisible at a seam)"
        )
    if len(report.groups) > 1:
        parts = "; ".join(", ".join(Path(name).name for name in g) for g in report.groups)
        lines.append(f"scanned with different settings: {parts}")
    return lines


def assumed_lines(report: JobReport) -> list[str]:
    """Everything assumed or extrapolated, each once."""
    per_tile = [line for tile in report.tiles for line in tile.assumed]
    lines = list(dict.fromkeys([*report.assumed, *per_tile]))
    if report.tolerance and any(tile.outcome for tile in report.tiles):
        lines.append(
            "a strip beside a painting cannot show evenness over the whole glass, sharpness, "
            f"geometry or the colour of paints; {tolerance_set(report.tolerance).note}"
        )
    if not lines:
        return []
    return ["assumed, extrapolated or not measured:", *(f"    {line}" for line in lines)]
