"""What a merge reports of the joined picture."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from colormatch.colour.spaces import rgb_space
from colormatch.job.merge_light import Levelled
from colormatch.job.merge_seams import Joined
from colormatch.job.options import MergeOptions
from colormatch.joining.records import Remark
from colormatch.joining.refining import Seam
from colormatch.joining.rendering import Renderer
from colormatch.joining.rims import RIM
from colormatch.levelling.records import PairLevel, TileLevel
from colormatch.merged import (
    STEP,
    STEPS,
    GamutReport,
    LevellingReport,
    MergedReport,
    OverlapReport,
    PlaceReport,
    SeamReport,
)
from colormatch.model import FloatArray
from colormatch.placing.records import Placement

SCALE_LIMIT = 0.5
"""Percent by which the stated sheet and the picture may differ."""
TIES = {
    "strip": "its strip",
    "neighbours": "its neighbours, as it shows no strip",
    "nothing": "nothing: left as it was",
}
PLACES_NAMED = 6
"""Places where tiles differ that the report names; the largest and deepest."""
ALWAYS_NAMED = ("edge", "region")
"""Kinds of places always named: a rim that only one tile shows, a region not followed."""
CUTS_NAMED = 5
"""Cut elements that the report names."""
LEAST_RIM = 1e-4
"""Share of the picture, 0 to 1, beyond all masks at its rim that is reported."""


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
        seams=tuple(seam_report(seam, joined, placement.names) for seam in joined.seams.seams),
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
            *rim_remarks(joined.seams.rim),
            *levelled.report.assumptions,
        ),
        levelling=tuple(
            levelling_report(tile, gain.gain[painted])
            for tile, gain, painted in zip(
                levelled.report.tiles, levelled.gains, levelled.painted, strict=True
            )
        ),
        places=tuple(
            PlaceReport(
                kind=r.kind, tiles=r.tiles, place=r.place, size=r.size, depth=r.depth, text=r.text
            )
            for r in ordered_places(joined)
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
        overlap_report(pair, placement.names, rms.get((pair.first, pair.second)))
        for pair in levelled.report.pairs
    )


def overlap_report(pair: PairLevel, names: Sequence[str], rms: float | None) -> OverlapReport:
    """Give the figures of two tiles that were compared."""
    # Where nothing agrees, all there is is told.
    after = pair.agreeing if pair.trusted.any() else pair.after
    return OverlapReport(
        tiles=(names[pair.first], names[pair.second]),
        before=pair.before.p95_de,
        after=after.p95_de,
        placing_rms=rms,
        mean_before=pair.before.mean_de,
        mean_after=after.mean_de,
        left_out=pair.left_out,
        counts_before=counts(pair.de_before),
        counts_after=counts(pair.de_after),
    )


def counts(values: FloatArray) -> tuple[int, ...]:
    """Count differences per `STEP`; the last takes all above."""
    steps = np.minimum(values / STEP, STEPS).astype(int)
    return tuple(int(n) for n in np.bincount(steps, minlength=STEPS + 1))


def seam_report(seam: Seam, joined: Joined, names: Sequence[str]) -> SeamReport:
    """Give a seam's figures, and where its tiles differ most."""
    mine = [p for p in joined.seams.paths if {names[p.plus], names[p.minus]} == set(seam.tiles)]
    values = np.concatenate([p.delta_e for p in mine])
    k = int(np.nanargmax(values))
    x, y = joined.grid.mm_of_canvas(np.concatenate([p.points for p in mine])[k])
    return SeamReport(
        tiles=seam.tiles,
        length=seam.length,
        mean=seam.mean,
        p95=seam.p95,
        blended=seam.blended,
        largest=float(values[k]),
        worst=(float(x), float(y)),
    )


def levelling_report(tile: TileLevel, gain: FloatArray) -> LevellingReport:
    """Give what levelling did to one tile, by its gain (N, 3) on the painting."""
    whole = (gain.mean(axis=1) - 1) * 100
    # What it had too much was taken from it.
    red, green, blue = ((100 / (100 + excess) - 1) * 100 for excess in tile.gain_percent)
    return LevellingReport(
        tile=tile.name,
        tied_to=tile.tied_to,
        change=(red, green, blue),
        least=float(whole.min()),
        most=float(whole.max()),
        lamp=tile.profile_percent,
        carriage=tile.carriage_percent,
        field=tile.field_percent,
        blank=tile.blank_percent,
        sigma=tile.level_sigma_percent,
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


def ordered_places(joined: Joined) -> list[Remark]:
    """Order places where tiles differ: rims and regions first, then the largest and deepest."""
    large = sorted(joined.remarks, key=lambda r: -r.size[0] * r.size[1] * abs(r.depth))
    return sorted(large, key=lambda r: r.kind not in ALWAYS_NAMED)


def place_remarks(joined: Joined) -> tuple[str, ...]:
    """Name the largest places where tiles differ, and count the others."""
    places = ordered_places(joined)
    always = sum(place.kind in ALWAYS_NAMED for place in places)
    rest = len(places) - always - PLACES_NAMED
    more = (
        (f"tiles differ slightly in {rest} more small places (dust, relief, noise)",)
        if rest > 0
        else ()
    )
    return (*(place.text for place in places[: always + PLACES_NAMED]), *more)


def rim_remarks(share: float) -> tuple[str, ...]:
    """Say that the picture's outermost places may not be paint."""
    if share < LEAST_RIM:
        return ()
    return (
        f"the painting's edges are not quite straight: on {share:.2%} of the picture, all within "
        f"{RIM:g} mm of its edge, the scan shows what lies at the painting's rim or just beyond "
        "it; look along the edges, and cut them a little narrower if that shows in print",
    )


def cut_remarks(joined: Joined) -> tuple[str, ...]:
    """Name painted elements through which a seam had to run."""
    return tuple(
        f"a seam of {cut.length:.0f} mm runs through one painted element at "
        f"{cut.place[0]:.0f} x {cut.place[1]:.0f} mm ({' and '.join(cut.tiles)}): look at it "
        "there; a box in a --keep file moves the seam away"
        for cut in joined.seams.cut[:CUTS_NAMED]
    )
