"""The verdict over all tiles, and the one thing to do next."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from pathlib import Path

from colormatch.verdict import Advice, Finding, JobReport, TileReport

SIGNS = {Advice.USE: "✓", Advice.CARE: "!", Advice.RESCAN: "✕"}
"""A sign beside each advice, so that it is not told by colour alone."""
KINDS = {Advice.USE: "use", Advice.CARE: "care", Advice.RESCAN: "rescan"}
"""Name of each advice in the style sheet."""
GRAVITY = list(Advice)
NEXT = {
    "check": "Go on: match the tiles, or merge them to one picture.",
    "match": "Look at the matched tiles; they are ready for print, or to be joined.",
    "merge": "Look at the joined picture along its seams at full size; then it is ready for print.",
}
"""What comes next when nothing is wrong, by command."""
MEASURE = (
    "Have the strip measured, or carry values over to it from a measured sheet (colormatch "
    "transfer), and give the file with --reference: until then the tiles can be made to agree, "
    "but nobody can say that the colour is true."
)


@dataclass(frozen=True, kw_only=True)
class Headline:
    """What stands at the top: the advice, the verdict in words, and what to do."""

    advice: Advice
    verdict: str
    to_do: str
    where: str = ""

    @property
    def sign(self) -> str:
        """The advice's sign."""
        return SIGNS[self.advice]

    @property
    def kind(self) -> str:
        """The advice's name in the style sheet."""
        return KINDS[self.advice]


def headline(report: JobReport) -> Headline:
    """Sum up a report.

    Parameters
    ----------
    report : JobReport

    Returns
    -------
    Headline
        The gravest advice, and the next step of the first finding that asks for it.
    """
    advice = max((tile.advice for tile in report.tiles), key=GRAVITY.index, default=Advice.USE)
    tile, finding = gravest(report, advice)
    if tile is None or advice is Advice.USE:
        to_do = MEASURE if report.reference_kind == "nominal" else NEXT[report.command]
        return Headline(advice=advice, verdict=verdict(report, advice), to_do=to_do)
    to_do = sentence(plain_error(tile) if finding is None else finding.next_step)
    return Headline(
        advice=advice, verdict=verdict(report, advice), to_do=to_do, where=Path(tile.scan).name
    )


def gravest(report: JobReport, advice: Advice) -> tuple[TileReport | None, Finding | None]:
    """Give the first tile with an advice, and its first finding that gave it."""
    for tile in report.tiles:
        if tile.advice is advice:
            return tile, next((f for f in tile.findings if f.advice is advice), None)
    return None, None


def verdict(report: JobReport, advice: Advice) -> str:
    """Say in one sentence how the tiles stand, and what was written."""
    count = sum(tile.advice is advice for tile in report.tiles)
    some = f"{count} of {len(report.tiles)} scans" if len(report.tiles) > 1 else "The scan"
    if advice is Advice.RESCAN:
        words = f"{some} should be made again"
    elif advice is Advice.CARE:
        words = f"{some} can be used with care"
    else:
        words = "All scans can be used" if len(report.tiles) > 1 else "The scan can be used"
    return f"{words}; {written(report)}" if report.command != "check" else f"{words}."


def claim(report: JobReport) -> str:
    """Say what the colours may be called, given where the strip's values come from.

    Only measured values make true colour; carried-over ones make it within their
    uncertainty, nominal ones never. The fit's own error, on patches left out, is
    counted in.
    """
    if report.reference_kind == "nominal":
        return (
            "tiles agree, no more: the strip's values are nominal, so nobody can call the colour "
            "true"
        )
    fits = [tile.colour.left_out.mean for tile in report.tiles if tile.colour]
    fit = sum(fits) / len(fits) if fits else 0.0
    known = report.reference_uncertainty
    within = f"true colour within ± {hypot(fit, known or 0.0):.1f} ΔE2000 (mean on the strip"
    if report.reference_kind == "carried over":
        source = report.reference_facts.get("source", "carried over from a measured sheet")
        share = "an amount not stated" if known is None else f"± {known:.1f}"
        return f"{within}; {share} of it from its values, {source})"
    return f"{within}), as it was measured"


def written(report: JobReport) -> str:
    """Say what a command left behind."""
    if report.merged is not None:
        return "the joined picture was written."
    tiles = sum(tile.written is not None for tile in report.tiles)
    if tiles:
        return f"{tiles} matched tile{'s were' if tiles > 1 else ' was'} written."
    return "nothing was written."


def plain_error(tile: TileReport) -> str:
    """Say what is wrong with a scan without its path, which stands beside it."""
    return (tile.error or "").removeprefix(f"{tile.scan}: ")


def sentence(words: str) -> str:
    """Begin with a capital and end with a full stop."""
    return words[:1].upper() + words[1:].rstrip(".") + "."
