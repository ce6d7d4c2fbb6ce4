"""Words for what one scan showed by itself, and how grave it is."""

from __future__ import annotations

from collections.abc import Callable

from colormatch.inspecting import edges
from colormatch.inspecting.records import Inspected, Noticed
from colormatch.verdict import Advice, Finding, Kind

LOST_BADLY = 0.5
"""Percent of the painting clipped or blocked from which it should be scanned again."""
GRAVE_NOISE = 4.0
"""Standard deviation of L*, where FADGI's (2016, 2023) last level ends."""
PLAIN_STREAK = 2.0
"""Percent of light: from here a streak shows in a print (common practice, no source)."""
PLAIN_BAND = 1.0
"""Percent of light, amplitude: bands 2 % apart are 0.4 ΔE2000, and they repeat."""
MUCH_DUST = 25.0
"""Specks per dm² of bare glass from which retouching takes longer than wiping and scanning."""
MUCH_GLARE = 6.6
"""Specks per dm² of painting, 40 on an A4 glass, from which they are more than an accent here
and there (common practice, no source)."""
COARSE_STEP = 1.5
"""L* per code in the darks from which steps are seen in every dark passage."""
PLAIN_BLUR = 0.11
"""Blur, mm, from which care is advised, as between two scans."""
FINE_JPEG, COARSE_JPEG = 92.0, 60.0
"""Qualities: above the first nothing is seen at full size, below the second blocks are."""


def scan_findings(seen: Inspected) -> list[Finding]:
    """List what was noticed in one scan."""
    looks: tuple[Callable[[Inspected], Finding | None], ...] = (
        _clipped,
        _blocked,
        _sharpened,
        _noise,
        _streaks,
        _banding,
        _glare,
        _dust,
        _depth,
        _lossy,
        _blocks,
        _bent,
        _lifted,
        _automatic,
    )
    return [finding for look in looks if (finding := look(seen)) is not None]


def _finding(
    kind: Kind,
    noticed: Noticed,
    unit: str,
    advice: Advice,
    words: tuple[str, str],
    *,
    hint: bool = False,
) -> Finding:
    return Finding(
        kind=kind,
        advice=advice,
        text=words[0],
        next_step=words[1],
        measure=noticed.measure,
        unit=unit,
        limit=noticed.limit,
        places=noticed.places,
        hint=hint,
    )


def _graded(measure: float, care: float, again: float = float("inf")) -> Advice:
    if measure >= again:
        return Advice.RESCAN
    return Advice.CARE if measure >= care else Advice.USE


def _clipped(seen: Inspected) -> Finding | None:
    if not seen.clipped.beyond:
        return None
    text = (
        f"{_percent(seen.clipped.measure)} of the painting is so light that the scan shows plain "
        "white or a colour at its limit there: drawing in it is lost"
    )
    step = (
        "turn automatic exposure off, lower the exposure or brightness, and scan all tiles again "
        "with the same settings"
    )
    advice = _graded(seen.clipped.measure, 0.0, LOST_BADLY)
    return _finding(Kind.CLIPPED, seen.clipped, "% of the painting", advice, (text, step))


def _blocked(seen: Inspected) -> Finding | None:
    if not seen.blocked.beyond:
        return None
    text = (
        f"{_percent(seen.blocked.measure)} of the painting is so dark that the scan shows plain "
        "black or a colour at its limit there: drawing in it is lost"
    )
    step = (
        "set the black point or shadows to 0 and turn automatic levels off in the scanner's "
        "driver, and scan all tiles again with the same settings"
    )
    advice = _graded(seen.blocked.measure, 0.0, LOST_BADLY)
    return _finding(Kind.BLOCKED, seen.blocked, "% of the painting", advice, (text, step))


def _sharpened(seen: Inspected) -> Finding | None:
    if seen.halo is None or not seen.halo.beyond:
        return None
    text = (
        "the scan was sharpened: along the strip's printed edges runs a rim that overshoots by "
        f"{seen.halo.measure:.0f} % of the step; every brush stroke has such a rim too, and it "
        "cannot be taken out again"
    )
    step = "turn sharpening (unsharp mask) off in the scanner's driver, and scan again"
    advice = _graded(seen.halo.measure, 0.0, edges.GRAVE)
    return _finding(Kind.SHARPENED, seen.halo, "% of the step", advice, (text, step))


def _noise(seen: Inspected) -> Finding | None:
    if seen.noise is None or not seen.noise.beyond:
        return None
    text = (
        f"plain patches are grainy by {seen.noise.measure:.1f} L* (standard deviation at mid "
        "grey); this is the scanner's noise or, at most in part, the grain of print and paper"
    )
    step = (
        "let the scanner warm up, choose a higher quality or several passes if the driver offers "
        "them, raise the exposure if the scan is dark, and scan again"
    )
    advice = _graded(seen.noise.measure, 0.0, GRAVE_NOISE)
    return _finding(Kind.NOISE, seen.noise, "L*", advice, (text, step))


def _streaks(seen: Inspected) -> Finding | None:
    if not seen.streaks.beyond:
        return None
    several = f"{seen.streaks.count} streaks run" if seen.streaks.count > 1 else "a streak runs"
    text = (
        f"{several} straight along the carriage over everything on the glass; the strongest "
        f"differs from its sides by {seen.streaks.measure:.1f} % of light"
    )
    step = (
        "wipe the glass where the scan begins: dust on the strip of white inside, by which the "
        "scanner adjusts itself, makes such lines; then scan again"
    )
    advice = _graded(seen.streaks.measure, PLAIN_STREAK)
    return _finding(Kind.STREAKS, seen.streaks, "% of light", advice, (text, step))


def _banding(seen: Inspected) -> Finding | None:
    if not seen.banding.beyond:
        return None
    period = seen.banding.places[0][3]
    text = (
        f"bands lie across the whole scan, one every {period:.1f} mm, lighter and darker by "
        f"{seen.banding.measure:.1f} % of light"
    )
    step = (
        "let the lamp warm up, put the scanner on a firm table, choose a slower or finer setting, "
        "and scan again"
    )
    noticed = Noticed(measure=seen.banding.measure, limit=seen.banding.limit)
    advice = _graded(noticed.measure, PLAIN_BAND)
    return _finding(Kind.BANDING, noticed, "% of light", advice, (text, step))


def _glare(seen: Inspected) -> Finding | None:
    rims = seen.halo is not None and seen.halo.beyond
    if not seen.glare.beyond or rims:
        # Sharpening makes light rims of its own.
        return None
    text = (
        f"{seen.glare.count} specks on the painting are lighter than white paper: reflections of "
        "the lamp on varnish or ridges of paint; what lies under them is not in the scan"
    )
    step = (
        "compare with the tile that overlaps there, or scan once more with the painting turned "
        "half round, and retouch from that scan"
    )
    advice = _graded(seen.glare.measure, MUCH_GLARE)
    return _finding(Kind.GLARE, seen.glare, "specks per dm²", advice, (text, step), hint=True)


def _dust(seen: Inspected) -> Finding | None:
    if seen.dust is None or not seen.dust.beyond:
        return None
    text = (
        f"{seen.dust.count} specks and hairs were counted beside the painting, about "
        f"{seen.dust.measure:.0f} on each square decimetre; as many must lie on it"
    )
    step = (
        "wipe the glass with a clean cloth as the scanner's maker advises, blow loose dust off "
        "where a conservator would allow it, and scan again"
    )
    advice = _graded(seen.dust.measure, MUCH_DUST)
    return _finding(Kind.DUST, seen.dust, "per dm²", advice, (text, step))


def _depth(seen: Inspected) -> Finding | None:
    if seen.bits >= 16:
        return None
    text = "8 bits per channel: enough to look at, little room for later changes"
    if seen.dark_step.measure >= COARSE_STEP:
        text = (
            f"8 bits per channel with a tone curve that leaves the darks steps of "
            f"{seen.dark_step.measure:.1f} L* (at L* {10}): smooth dark passages break into bands"
        )
    step = "choose 48-bit colour (16 bits per channel) in the scanner's driver if it can"
    advice = _graded(seen.dark_step.measure, COARSE_STEP)
    return _finding(Kind.LOW_DEPTH, seen.dark_step, "L* per code", advice, (text, step))


def _lossy(seen: Inspected) -> Finding | None:
    if seen.quality is None:
        return None
    quality = min(max(seen.quality, 1.0), 100.0)
    loss = (
        "blocks of 8 x 8 pixels show"
        if quality < COARSE_JPEG
        else "fine texture and dark tones were thinned out when it was saved"
        if quality < FINE_JPEG
        else "little was lost, but each saving loses more"
    )
    return Finding(
        kind=Kind.LOSSY,
        advice=Advice.RESCAN
        if quality < COARSE_JPEG
        else Advice.CARE
        if quality < FINE_JPEG
        else Advice.USE,
        text=f"JPEG of quality {quality:.0f} of 100: {loss}",
        next_step="save scans as TIFF or PNG",
        measure=quality,
        unit="of 100",
        limit=FINE_JPEG,
    )


def _blocks(seen: Inspected) -> Finding | None:
    if seen.blocks is None or not seen.blocks.beyond:
        return None
    text = (
        "the pixels change at the borders of blocks of 8 x 8 as in a JPEG: this file was probably "
        "saved as JPEG before"
    )
    noticed = Noticed(measure=seen.blocks.measure * 100, limit=seen.blocks.limit * 100)
    words = (text, "use the file as the scanner's driver wrote it, saved as TIFF or PNG")
    return _finding(Kind.LOSSY, noticed, "% stronger", Advice.CARE, words, hint=True)


def _bent(seen: Inspected) -> Finding | None:
    if seen.bend is None or not seen.bend.beyond:
        return None
    text = (
        f"the strip did not lie flat: its patches are up to {seen.bend.measure:.2f} mm from where "
        "a flat strip has them, as where a sheet stands off the glass; there it reads darker"
    )
    words = (text, "press the strip flat on the glass, under the painting's weight, and scan again")
    return _finding(Kind.STRIP_BENT, seen.bend, "mm", Advice.CARE, words)


def _lifted(seen: Inspected) -> Finding | None:
    if not seen.lifted.beyond:
        return None
    sides = "one side" if seen.lifted.count == 1 else f"{seen.lifted.count} sides"
    text = (
        f"toward {sides} of what the scan shows of the painting, fine texture grows soft, by a "
        f"blur of about {seen.lifted.measure:.2f} mm along the whole side: the painting probably "
        "stood off the glass there, unless it is painted more smoothly"
    )
    step = (
        "look at the marked strip at full size; if canvas or brush marks are soft there, weigh "
        "the painting down so that it lies flat, also beside the rim of the glass, and scan this "
        "part again"
    )
    advice = _graded(seen.lifted.measure, PLAIN_BLUR)
    return _finding(Kind.OFF_GLASS, seen.lifted, "mm", advice, (text, step), hint=True)


def _automatic(seen: Inspected) -> Finding | None:
    if not seen.range_used.beyond:
        return None
    text = (
        f"the scan's tones reach from one end of the scale to the other in red, green and blue "
        f"alike ({seen.range_used.measure:.1f} % of it), and by the strip's paper its top is the "
        "lightest thing on the glass, not a perfect white: automatic exposure or automatic levels "
        "were probably on. They set each scan by what lies on the glass, so that parts differ"
    )
    step = (
        "turn automatic exposure, levels and colour off in the scanner's driver, and scan all "
        "parts with the same settings"
    )
    unit = "% of the scale"
    return _finding(Kind.OTHER_EXPOSURE, seen.range_used, unit, Advice.USE, (text, step), hint=True)


def _percent(value: float) -> str:
    return f"{value:.1f} %" if value < 10 else f"{value:.0f} %"
