"""The report as text for a terminal: one line per tile, then what was found."""

from __future__ import annotations

from pathlib import Path

from colormatch.merged import MergedReport, OverlapReport
from colormatch.reporting.figures import measured_words, reached_words
from colormatch.reporting.headline import claim
from colormatch.reporting.swatch_part import swatch_lines
from colormatch.standards.tolerances import Outcome, tolerance_set
from colormatch.verdict import ColourReport, Finding, JobReport, StripReport, TileReport


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
    paints = report.swatches is not None
    lines = [line for tile in report.tiles for line in tile_lines(tile, paints=paints)]
    lines += ["", *across_lines(report)]
    if report.swatches is not None:
        lines += swatch_lines(report.swatches)
    if report.merged is not None:
        lines += merged_lines(report.merged)
    lines += assumed_lines(report)
    return "\n".join(lines).rstrip()


def tile_lines(tile: TileReport, *, paints: bool = False) -> list[str]:
    """One line of verdict, then figures and findings, indented.

    With ``paints`` the error on paint is told elsewhere and needs no rule of thumb.
    """
    name = Path(tile.scan).name
    if tile.error is not None:
        return [f"{name}: cannot be used", f"    {tile.error}"]
    lines = [f"{name}: {tile.advice.value}"]
    lines += [f"    {sheet_words(strip)}" for strip in tile.strips]
    if tile.colour is not None:
        lines += colour_lines(tile.colour, paints=paints)
    if tile.outcome is not None:
        lines.append(f"    {outcome_line(tile.outcome)}")
    if tile.gamut is not None:
        lines.append(
            f"    {tile.gamut.share:.2%} of the pixels lie outside {tile.gamut.space} and were "
            f"clipped channel by channel (largest change {tile.gamut.largest or 0:.1f} ΔE2000)"
        )
    lines += [line for finding in tile.findings for line in finding_lines(finding)]
    if tile.written is not None:
        lines.append(f"    written: {tile.written}")
    return lines


def sheet_words(strip: StripReport) -> str:
    """Say which sheet a strip is, as far as its symbol tells."""
    if strip.serial:
        return f"{strip.layout}, sheet {strip.serial}"
    unread = {
        "not printed": "without a symbol that names the sheet",
        "unreadable": "its symbol cannot be read, so which sheet it is is not known",
    }
    other = f"its symbol names another design: {strip.symbol}"
    return f"{strip.layout}, {unread.get(strip.symbol, other)}"


def colour_lines(colour: ColourReport, *, paints: bool = False) -> list[str]:
    """Give the figures of one tile."""
    out, fit = colour.left_out, colour.fitted
    gains = " ".join(f"{(g - 1) * 100:+.1f}" for g in colour.gains)
    return [
        f"    patches left out of the fit: ΔE2000 mean {out.mean:.2f}, P95 {out.p95:.2f}, "
        f"max {out.largest:.2f} (in the fit: {fit.mean:.2f}, {fit.p95:.2f}, {fit.largest:.2f})"
        + ("" if paints else "; on paint expect 1 to 1.5 times as much"),
        f"    light of red, green, blue against the first tile: {gains} %; at the strip's ends "
        f"{colour.fall_off[0]:+.1f} % and {colour.fall_off[1]:+.1f} %; scattered light removed "
        f"{colour.scattered:.1f} % (darkest places {colour.scattered_dark:.0f} % darker)",
    ]


def outcome_line(outcome: Outcome) -> str:
    """Say what level of a tolerance set was reached."""
    title = outcome.tolerance_set.title
    return f"measured against the figures of {title}: {reached_words(outcome)}"


def finding_lines(finding: Finding) -> list[str]:
    """Give a finding and its next step."""
    sign = "hint: " if finding.hint else ""
    return [
        f"    - {sign}{finding.text}{in_brackets(finding)}",
        f"      next: {finding.next_step}",
    ]


def in_brackets(finding: Finding) -> str:
    """Give the limit and the first place, as far as there are any; the text has the measure."""
    told = measured_words(finding)[1:]
    if finding.places:
        x, y, width, height = finding.places[0]
        others = len(finding.places) - 1
        more = f" and {others} more place{'s' if others > 1 else ''}" if others else ""
        told.append(f"at {x + width / 2:.0f} x {y + height / 2:.0f} mm from the top left{more}")
    return f" [{'; '.join(told)}]" if told else ""


def across_lines(report: JobReport) -> list[str]:
    """Say what concerns all tiles."""
    used = any(tile.colour for tile in report.tiles)
    lines = [f"on the strip: {claim(report)}"] if used else []
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
    """Everything assumed or extrapolated, each once; nothing if no tile could be used."""
    if all(tile.error for tile in report.tiles):
        return []
    per_tile = [line for tile in report.tiles for line in tile.assumed]
    lines = list(dict.fromkeys([*report.assumed, *per_tile]))
    if report.tolerance and any(tile.outcome for tile in report.tiles):
        paints = "paints" if report.swatches is None else "paints that are not on your sheet"
        lines += [
            "a strip beside a painting cannot show evenness over the whole glass, sharpness, "
            f"geometry or the colour of {paints}",
            f"the figures it is measured against: {tolerance_set(report.tolerance).note}",
        ]
    if not lines:
        return []
    return ["assumed, extrapolated or not measured:", *(f"    {line}" for line in lines)]


def merged_lines(merged: MergedReport) -> list[str]:
    """Give the figures of a joined picture."""
    lines = [
        f"joined: {merged.written}, {merged.width} x {merged.height} pixels at {merged.ppi:.0f} "
        f"ppi, {merged.size[0]:.1f} x {merged.size[1]:.1f} mm",
        f"    tiles coincide to {merged.placing_rms:.2f} pixels RMS, {merged.placing_largest:.2f} "
        "at the worst place compared (doubling shows from about 0.5)",
    ]
    lines += [overlap_line(one) for one in merged.overlaps]
    lines += [
        f"    seam between {' and '.join(s.tiles)}: {s.length:.0f} mm, ΔE2000 mean {s.mean:.2f}, "
        f"P95 {s.p95:.2f} (good: 0.3 and 1.0), {s.blended:.0%} blended, the rest cut hard"
        for s in merged.seams
    ]
    lines += [
        f"    {share:.0%} of the picture is from {name}; {merged.levels.get(name, '')}"
        for name, share in merged.shares.items()
    ]
    lines.append(f"    {merged.gamut.share:.2%} of its pixels lie outside {merged.gamut.space}")
    if merged.uncovered > 0:
        lines.append(
            f"    {merged.uncovered:.2%} of the picture is shown by no tile and was left white"
        )
    return [*lines, *(f"    - {remark}" for remark in merged.remarks)]


def overlap_line(one: OverlapReport) -> str:
    """Say how one overlap agrees."""
    placing = "" if one.placing_rms is None else f", placing {one.placing_rms:.2f} pixels RMS"
    return (
        f"    overlap of {' and '.join(one.tiles)}: light differs by P95 {one.before:.2f} ΔE2000 "
        f"before levelling, {one.after:.2f} after{placing}"
    )
