"""Findings about how tiles lie: turned ones, narrow overlaps, what an overlap shows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path

import numpy as np

from colormatch.job.fit import FittedTile
from colormatch.job.overviews import MM_PER_INCH, overview_tile
from colormatch.joining.comparing import SOFT_MM, Overview, compare_overviews
from colormatch.joining.records import Remark
from colormatch.model import FloatArray
from colormatch.placing.neighbours import (
    Beside,
    neighbours,
    placed_neighbours,
    quarter_turns,
)
from colormatch.placing.poses import Pose
from colormatch.placing.tiles import Tile, View
from colormatch.verdict import Advice, Box, Finding, Kind

Found = Iterator[tuple[str, Finding]]
"""A scan's name and what was found in it."""

OVERLAP_SAID, OVERLAP_CARE, OVERLAP_LEAST = 25.0, 19.0, 10.0
"""Millimetres; the trade asks for 30: said, with care below two thirds of that, too little
below a third."""
SHADOW_SAID, SHADOW_CARE, SHADOW_DEEPEST = 0.04, 0.08, 0.6
"""Share of light missing in a narrow dark place: 0.04 is a little under one ΔE2000, 0.08 a
little under two; shadows of 0.16 to 0.31 were measured on real scans."""
SHADOW_LENGTH, SHADOW_WIDTHS = 15.0, (1.6, 10.0)
"""Least length, and widths, of a shadow beside an edge or fold, mm: what is shorter may be a
hair, what is narrower an edge of paint, displaced."""
LENGTHS = 2.5
"""Its length over its width, at least."""
MOST_PLACES = 3
"""Of one finding."""
SOFT_CARE = 0.11
"""Blur from which on care is advised, mm, standard deviation: a third more than a pixel of a
print at 300 ppi (0.085 mm)."""
SOFT_AREA, RIM_MM = 400.0, 5.0
"""Square millimetres of a soft place inside the scan from which it counts; distance from the
scan's rim within which a smaller one does."""
WAYS = ("", "a quarter turn clockwise", "upside down", "a quarter turn anticlockwise")


def findings_of_lying(fitted: Sequence[FittedTile]) -> Found:
    """Compare the painting in all tiles, from their overviews."""
    if len(fitted) < 2:
        return
    tiles = tuple(overview_tile(one) for one in fitted)
    yield from _lying(tiles, neighbours(tiles))


def findings_of_placed(
    tiles: tuple[Tile, ...], poses: tuple[Pose, ...], pairs: Sequence[tuple[int, int]]
) -> Found:
    """Say how tiles lie whose poses are known; their names are their scans' paths."""
    yield from _lying(tiles, placed_neighbours(tiles, poses, pairs))


def _lying(tiles: tuple[Tile, ...], pairs: list[Beside]) -> Found:
    turns = quarter_turns(len(tiles), pairs)
    for tile, turn in zip(tiles, turns, strict=True):
        if turn:
            yield tile.name, _turned(turn)
    yield from _narrow(tiles, pairs)
    for pair in pairs:
        # Light fitted over less than that says little.
        if pair.sure and pair.turns == 0 and pair.width >= OVERLAP_LEAST:
            yield from _in_overlap(tiles, pair)


def _turned(turn: int) -> Finding:
    return Finding(
        kind=Kind.TURNED,
        advice=Advice.CARE,
        text=f"the painting lies {WAYS[-turn % 4]} on the glass compared with the other scans: the "
        "lamp lights brush marks, weave and paper grain from another side here, so that their "
        "small shadows fall differently and the parts may not look alike",
        next_step="lay the painting the same way up for every scan, and scan this part again",
    )


def _narrow(tiles: tuple[Tile, ...], pairs: Sequence[Beside]) -> Found:
    """Tiles whose widest overlap is narrow."""
    told = set()
    for number in range(len(tiles)):
        mine = [p for p in pairs if number in (p.first, p.second)]
        widest = max(mine, key=lambda p: p.width, default=None)
        if widest is None or widest.width >= OVERLAP_SAID or widest in told:
            continue
        told.add(widest)
        # Told of the later one, which is the one to move.
        later = tiles[widest.second]
        earlier = Path(tiles[widest.first].name).name
        yield later.name, _little_overlap(widest.width, earlier, widest.places[1])


def _little_overlap(width: float, other: str, place: Box) -> Finding:
    advice = (
        Advice.RESCAN
        if width < OVERLAP_LEAST
        else Advice.CARE
        if width < OVERLAP_CARE
        else Advice.USE
    )
    return Finding(
        kind=Kind.LITTLE_OVERLAP,
        advice=advice,
        text=f"this scan and {other} share a strip of painting only {width:.0f} mm wide (30 mm or "
        "more is good): the join has little room to run along painted shapes, and colours are "
        "harder to bring together",
        next_step=f"move the painting so that more of what {other} shows is on the glass, and "
        "scan this part again",
        measure=width,
        unit="mm",
        limit=OVERLAP_SAID,
        places=(place,),
    )


def _in_overlap(tiles: tuple[Tile, ...], pair: Beside) -> Found:
    """Shadows and soft places, told of the tile that has them."""
    both = tiles[pair.first], tiles[pair.second]
    sides = [
        Overview(
            name=tile.name,
            light=np.asarray(tile.linear(tile.overview), dtype=np.float32),
            valid=tile.painted,
        )
        for tile in both
        if tile.linear is not None
    ]
    mm = both[0].step * MM_PER_INCH / float(np.mean(both[0].ppi))
    remarks = compare_overviews(sides[0], sides[1], partial(_across, both, pair), mm)
    shadows = sorted((r for r in remarks if like_a_shadow(r)), key=lambda r: -weight(r))
    if shadows:
        name, other = _darker(both, shadows[0])
        mine = [r for r in shadows if _darker(both, r)[0] == name][:MOST_PLACES]
        places = tuple(_place_in(both, pair, r.box, name) for r in mine)
        yield name, edge_shadow(abs(mine[0].depth), Path(other).name, places)
    # A shadow's own edges look like texture that the other tile lacks.
    soft = [
        r
        for r in remarks
        if r.kind == "softer" and not any(_touch(r.box, dark.box) for dark in shadows)
    ]
    for tile, neighbour in (both, both[::-1]):
        mine = sorted((r for r in soft if r.tiles[0] == tile.name), key=lambda r: -r.depth)
        if mine:
            places = tuple(_place_in(both, pair, r.box, tile.name) for r in mine[:MOST_PLACES])
            yield tile.name, _soft(mine[0].depth, tile, Path(neighbour.name).name, places)


def _across(both: tuple[Tile, Tile], pair: Beside, points: FloatArray) -> FloatArray:
    """Overview pixels of the first tile to those of the second."""
    first, second = (View(tile=tile, step=tile.step) for tile in both)
    mm = both[0].resting().painting_from_scan(first.scan_from_view(points))
    return second.view_from_scan(pair.pose.scan_from_painting(mm))


def like_a_shadow(remark: Remark) -> bool:
    """Tell what is long, narrow, and neither too faint nor so deep that it is a slip of paint."""
    length, width = remark.size
    long = length >= max(SHADOW_LENGTH, LENGTHS * width)
    narrow = SHADOW_WIDTHS[0] <= width <= SHADOW_WIDTHS[1]
    depth = SHADOW_SAID <= abs(remark.depth) <= SHADOW_DEEPEST
    return remark.kind in ("shadow", "unresolved") and long and depth and narrow


def weight(remark: Remark) -> float:
    """Give by how much a place matters: its area times its depth."""
    return remark.size[0] * remark.size[1] * abs(remark.depth)


def _darker(both: tuple[Tile, Tile], remark: Remark) -> tuple[str, str]:
    """Give the tile that is darker in a place, and the other.

    Along a fold that is the tile with the shadow, whichever a join would take.
    """
    name = remark.tiles[0] if remark.depth > 0 else remark.tiles[1]
    return name, both[0].name if name == both[1].name else both[1].name


def _touch(one: Box, other: Box) -> bool:
    return all(one[k] < other[k] + other[k + 2] and other[k] < one[k] + one[k + 2] for k in (0, 1))


def _place_in(both: tuple[Tile, Tile], pair: Beside, box: Box, name: str) -> Box:
    """Box of a place in the scan that has the fault, mm; given in the first one's."""
    x, y, width, height = box
    if name == both[0].name:
        return box
    first, second = both
    middle = np.array([[x + width / 2, y + height / 2]]) / MM_PER_INCH * first.ppi - 0.5
    there = pair.pose.scan_from_painting(first.resting().painting_from_scan(middle))
    moved = (there[0] + 0.5) * MM_PER_INCH / np.array(second.ppi)
    return (float(moved[0]) - width / 2, float(moved[1]) - height / 2, width, height)


def _where(place: Box) -> str:
    return f"at {place[0] + place[2] / 2:.0f}, {place[1] + place[3] / 2:.0f} mm"


def edge_shadow(
    depth: float, other: str, places: tuple[Box, ...], advice: Advice | None = None
) -> Finding:
    """Tell a long dark place that another scan does not show."""
    care = Advice.CARE if depth >= SHADOW_CARE else Advice.USE
    return Finding(
        kind=Kind.EDGE_SHADOW,
        advice=advice or care,
        text=f"{_where(places[0])} from the scan's top left corner lies a dark line or edge, "
        f"{depth * 100:.0f} % darker than the same place in {other}: the shadow of a fold or of "
        "an edge that stands off the glass (or a long hair)",
        next_step="open the fold, press the painting flat and scan this part again; a join takes "
        f"the place from {other} where it can",
        measure=depth * 100,
        unit="%",
        limit=SHADOW_SAID * 100,
        places=places,
    )


def _soft(blur: float, tile: Tile, other: str, places: tuple[Box, ...]) -> Finding:
    sure = any(_at_rim(tile, box) or box[2] * box[3] >= SOFT_AREA for box in places)
    advice = Advice.CARE if blur >= SOFT_CARE and sure else Advice.USE
    return off_glass(blur, f"in {other}", places, advice)


def off_glass(blur: float, where: str, places: tuple[Box, ...], advice: Advice) -> Finding:
    """Tell places that did not touch the glass; ``where`` they are sharper."""
    others = len(places) - 1
    more = f" and at {others} more place{'s' if others > 1 else ''}" if others else ""
    size = f"up to {blur:.2f}" if others else f"about {blur:.2f}"
    return Finding(
        kind=Kind.OFF_GLASS,
        advice=advice,
        text=f"{_where(places[0])} from the scan's top left corner{more} the painting is less "
        f"sharp than {where}, by a blur of {size} mm: it did not touch the glass there",
        next_step="weigh the painting down so that it lies flat, also beside the rim of the "
        "glass, and scan this part again; a join takes such a place from another scan where it "
        "can",
        measure=blur,
        unit="mm",
        limit=SOFT_MM,
        places=places,
    )


def _at_rim(tile: Tile, box: Box) -> bool:
    """Whether a place reaches the scan's rim, where sheets stand off the glass most."""
    x, y, width, height = box
    size = [n / p * MM_PER_INCH for n, p in zip((tile.width, tile.height), tile.ppi, strict=True)]
    gaps = (x, y, size[0] - x - width, size[1] - y - height)
    return min(gaps) < RIM_MM
