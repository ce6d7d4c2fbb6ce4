"""What a merge reports of the joined picture."""

from __future__ import annotations

from colormatch.colour.spaces import rgb_space
from colormatch.job.merge_light import Levelled
from colormatch.job.merge_seams import Joined
from colormatch.job.options import MergeOptions
from colormatch.joining.rendering import Renderer
from colormatch.placing.records import Placement
from colormatch.verdict import GamutReport, MergedReport, OverlapReport, SeamReport

SCALE_LIMIT = 0.5
"""Percent by which the stated sheet and the picture may differ."""
TIES = {
    "strip": "its strip",
    "neighbours": "its neighbours, as it shows no strip",
    "nothing": "nothing: left as it was",
}
PLACES_NAMED = 6
"""Places where tiles differ that the report names; the largest and deepest."""
CUTS_NAMED = 5
"""Cut elements that the report names."""


def merge_report(
    options: MergeOptions,
    placement: Placement,
    levelled: Levelled,
    joined: Joined,
    renderer: Renderer,
) -> MergedReport:
    """Put together what is known about the joined picture."""
    pixels = placement.width * placement.height
    mm = 25.4 / placement.ppi
    size = (placement.width * mm, placement.height * mm)
    return MergedReport(
        written=str(options.out),
        width=placement.width,
        height=placement.height,
        ppi=placement.ppi,
        size=size,
        sheet=options.sheet,
        placing_rms=placement.rms,
        placing_largest=placement.largest,
        overlaps=overlaps(placement, levelled),
        seams=tuple(
            SeamReport(tiles=s.tiles, length=s.length, mean=s.mean, p95=s.p95, blended=s.blended)
            for s in joined.seams.seams
        ),
        shares=dict(zip(placement.names, joined.seams.shares, strict=True)),
        levels={
            tile.name: f"light tied to {TIES[tile.tied_to]}, known to "
            f"{tile.level_sigma_percent:.1f} %"
            for tile in levelled.report.tiles
        },
        remarks=(
            *sheet_remarks(size, options.sheet),
            *(doubt.text for doubt in placement.doubts),
            *place_remarks(joined),
            *cut_remarks(joined),
            *levelled.report.assumptions,
        ),
        uncovered=renderer.tally.uncovered / pixels,
        gamut=GamutReport(
            space=rgb_space(options.space).title,
            share=renderer.tally.outside / pixels,
            largest=None,
        ),
    )


def overlaps(placement: Placement, levelled: Levelled) -> tuple[OverlapReport, ...]:
    """Give the figures of every two tiles that were compared."""
    rms = {(fit.first, fit.second): fit.rms for fit in placement.pairs}
    return tuple(
        OverlapReport(
            tiles=(placement.names[pair.first], placement.names[pair.second]),
            before=pair.before.p95_de,
            after=pair.agreeing.p95_de,
            placing_rms=rms.get((pair.first, pair.second)),
        )
        for pair in levelled.report.pairs
    )


def sheet_remarks(size: tuple[float, float], sheet: tuple[float, float] | None) -> tuple[str, ...]:
    """Compare the picture's size with the stated one."""
    if sheet is None:
        return ("no --sheet was given: the picture's size rests on the scans' resolution alone",)
    off = [(seen / said - 1) * 100 for seen, said in zip(size, sheet, strict=True)]
    if max(abs(o) for o in off) <= SCALE_LIMIT:
        return ()
    return (
        f"the picture measures {size[0]:.1f} x {size[1]:.1f} mm, the stated sheet "
        f"{sheet[0]:g} x {sheet[1]:g} mm ({off[0]:+.1f} % and {off[1]:+.1f} %): check that "
        "width and height are in this order, that no edge was cut off, and the scans' resolution",
    )


def place_remarks(joined: Joined) -> tuple[str, ...]:
    """Name the largest places where tiles differ, and count the others."""
    large = sorted(joined.remarks, key=lambda r: -r.size[0] * r.size[1] * abs(r.depth))
    # A rim that only one tile shows, or a region not followed, is always named.
    named = [r for r in large if r.kind in ("edge", "region")]
    differing = [r for r in large if r.kind not in ("edge", "region")]
    named += differing[:PLACES_NAMED]
    rest = len(differing) - PLACES_NAMED
    more = (
        (f"tiles differ slightly in {rest} more small places (dust, relief, noise)",)
        if rest > 0
        else ()
    )
    return (*(remark.text for remark in named), *more)


def cut_remarks(joined: Joined) -> tuple[str, ...]:
    """Name painted elements through which a seam had to run."""
    return tuple(
        f"a seam of {cut.length:.0f} mm runs through one painted element at "
        f"{cut.place[0]:.0f} x {cut.place[1]:.0f} mm ({' and '.join(cut.tiles)}): look at it "
        "there; a box in a --keep file moves the seam away"
        for cut in joined.seams.cut[:CUTS_NAMED]
    )
