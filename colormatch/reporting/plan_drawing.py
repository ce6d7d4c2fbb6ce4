"""A plan drawn: the painting with its tiles, and each tile as it lies on the glass."""

from __future__ import annotations

from dataclasses import dataclass

from colormatch.plans import PlanReport, Rectangle, TileGrid, TilePlan
from colormatch.reporting.palette import LIGHT
from colormatch.reporting.shapes import Box, Path, Shape, Sheet, Words
from colormatch.reporting.svg import Span

WIDTH = 900.0
EDGE = 30.0
OVERVIEW = 360.0
"""Height of the painting as a whole at most."""
MOST_DRAWN = 12
"""Tiles that are drawn on the glass; the rest repeat them."""
PER_LINE = 4
CELL = (WIDTH - 2 * EDGE) / PER_LINE
PAINT, SHARED, BARE_GLASS, STRIP = "#d9d4c7", "#b9b09a", "#eef1f3", LIGHT["one"]


@dataclass(frozen=True, kw_only=True)
class View:
    """Where millimetres lie on the sheet."""

    corner: Span
    scale: float

    def at(self, x: float, y: float) -> Span:
        """Give the place of a point."""
        return self.corner[0] + x * self.scale, self.corner[1] + y * self.scale

    def box(self, place: Rectangle, fill: str = "", line: str = "", dashed: bool = False) -> Box:
        """Give a rectangle of millimetres."""
        x, y, width, height = place
        size = width * self.scale, height * self.scale
        return Box(at=self.at(x, y), size=size, fill=fill, line=line, dashed=dashed)


def plan_sheet(report: PlanReport) -> Sheet:
    """Draw a plan.

    Parameters
    ----------
    report : PlanReport

    Returns
    -------
    Sheet
        The painting above, below it up to `MOST_DRAWN` tiles on the glass.
    """
    grid = report.grid
    width, height = grid.wish.painting
    title = f"{len(grid.tiles)} scans of a painting of {width:g} x {height:g} mm"
    shapes: list[Shape] = [Words(at=(EDGE, 38), text=title, size=19)]
    shapes.append(Words(at=(EDGE, 58), text=_subtitle(grid), colour=LIGHT["soft"]))
    whole, bottom = _whole(grid)
    tiles, end = _tiles(grid, bottom + 40)
    return Sheet(size=(WIDTH, end + 20), title=title, shapes=(*shapes, *whole, *tiles))


def _subtitle(grid: TileGrid) -> str:
    way = "turned a quarter clockwise" if grid.turned else "upright"
    shared = [f"{o:.0f} mm" for o in grid.overlaps if o is not None]
    overlaps = f", overlaps {' and '.join(shared)}" if shared else ""
    return (
        f"as the scans show it, painting {way}, {grid.columns} x {grid.rows} tiles{overlaps}, "
        f"{grid.wish.ppi:g} ppi"
    )


def _whole(grid: TileGrid) -> tuple[list[Shape], float]:
    """Draw the painting with all tiles; gives the lower end too."""
    width, height = grid.lying
    margin = grid.strip_size[1] + grid.gap + 4
    scale = min(OVERVIEW / (height + 2 * margin), (WIDTH - 2 * EDGE - 260) / (width + 2 * margin))
    view = View(corner=(EDGE + margin * scale, 80 + margin * scale), scale=scale)
    shapes: list[Shape] = [view.box((0, 0, width, height), fill=PAINT, line=LIGHT["ink"])]
    shapes += _shared(grid, view)
    for number, tile in enumerate(grid.tiles, start=1):
        shapes.append(view.box(tile.part, line=LIGHT["two"], dashed=True))
        x, y, wide, tall = tile.part
        shapes.append(_number(view.at(x + wide / 2, y + tall / 2), number, tile, 15))
        if tile.strip is not None:
            shapes.append(_strip(view, _moved(tile.strip.box, tile)))
    shapes += _top(grid, view)
    shapes += _key((EDGE + (width + 2 * margin) * scale + 30, 110))
    return shapes, 80 + (height + 2 * margin) * scale


def _shared(grid: TileGrid, view: View) -> list[Shape]:
    """Shade what neighbours share."""
    found: list[Shape] = []
    for tile in grid.tiles:
        x, y, wide, tall = tile.part
        across, down = grid.overlaps
        if tile.column > 1 and across:
            found.append(view.box((x, y, across, tall), fill=SHARED))
        if tile.row > 1 and down:
            found.append(view.box((x, y, wide, down), fill=SHARED))
    return found


def _moved(box: Rectangle, tile: TilePlan) -> Rectangle:
    """Carry a place on the glass over to the painting."""
    x, y = tile.painting_on_glass[:2]
    return box[0] - x, box[1] - y, box[2], box[3]


def _strip(view: View, box: Rectangle) -> Box:
    return view.box(box, fill=STRIP, line=LIGHT["card"])


def _number(at: Span, number: int, tile: TilePlan, size: float) -> Words:
    text = f"{number}" if tile.strip is not None else f"{number}, no strip"
    colour = LIGHT["ink"] if tile.strip is not None else LIGHT["rescan"]
    return Words(at=(at[0], at[1] + size / 3), text=text, size=size, anchor="middle", colour=colour)


def _top(grid: TileGrid, view: View) -> list[Shape]:
    """Mark the painting's top edge."""
    width, height = grid.lying
    if grid.turned:
        ends = view.at(width, 0), view.at(width, height)
        word = Words(at=(ends[1][0] - 7, ends[1][1] - 8), text="top", upwards=True)
    else:
        ends = view.at(0, 0), view.at(width, 0)
        word = Words(at=(ends[0][0] + 8, ends[0][1] + 16), text="top")
    return [Path(places=ends, line=LIGHT["ink"], width=3.5), word]


def _key(at: Span) -> list[Shape]:
    entries = (
        (Box(at=(0, 0), size=(26, 14), fill=PAINT, line=LIGHT["ink"]), "the painting"),
        (Box(at=(0, 0), size=(26, 14), line=LIGHT["two"], dashed=True), "a tile's part"),
        (Box(at=(0, 0), size=(26, 14), fill=SHARED), "shared with a neighbour"),
        (Box(at=(0, 0), size=(26, 7), fill=STRIP), "the strip, beside every tile"),
        (Box(at=(0, 0), size=(26, 14), fill=BARE_GLASS, line=LIGHT["soft"]), "the glass"),
    )
    shapes: list[Shape] = []
    for k, (box, words) in enumerate(entries):
        x, y = at[0], at[1] + 26 * k
        shapes.append(
            Box(at=(x, y), size=box.size, fill=box.fill, line=box.line, dashed=box.dashed)
        )
        shapes.append(Words(at=(x + 36, y + 11), text=words))
    return shapes


def _tiles(grid: TileGrid, top: float) -> tuple[list[Shape], float]:
    """Draw tiles on the glass, four in a line; gives the lower end too."""
    drawn = grid.tiles[:MOST_DRAWN]
    width, height = grid.wish.glass
    scale = min((CELL - 46) / width, 260 / height)
    tall = height * scale + 62
    more = len(grid.tiles) - len(drawn)
    rest = f" (the first {len(drawn)}; the other {more} follow the same pattern)" if more else ""
    shapes: list[Shape] = [
        Words(at=(EDGE, top), text=f"Each tile on the glass, as its scan shows it{rest}", size=15)
    ]
    for k, tile in enumerate(drawn):
        corner = (EDGE + (k % PER_LINE) * CELL + 20, top + 36 + (k // PER_LINE) * tall)
        shapes += _on_glass(grid, tile, k + 1, View(corner=corner, scale=scale))
    lines = -(-len(drawn) // PER_LINE)
    return shapes, top + 20 + lines * tall


def _on_glass(grid: TileGrid, tile: TilePlan, number: int, view: View) -> list[Shape]:
    width, height = grid.wish.glass
    glass = (0.0, 0.0, width, height)
    shown = _cut(tile.painting_on_glass, _grown(glass, 9 / view.scale))
    shapes: list[Shape] = [
        view.box(glass, fill=BARE_GLASS),
        view.box(shown, fill=PAINT, line=LIGHT["soft"]),
        view.box(tile.on_glass, line=LIGHT["two"], dashed=True),
        view.box(glass, line=LIGHT["ink"]),
    ]
    if grid.wish.clear > 0:
        y = view.at(0, grid.wish.clear)[1]
        ends = (view.at(0, 0)[0], y), (view.at(width, 0)[0], y)
        shapes.append(Path(places=ends, line=LIGHT["soft"], dashed=True))
        at = (view.at(width / 2, 0)[0], (view.at(0, 0)[1] + y) / 2 + 3)
        shapes.append(
            Words(at=at, text="keep clear", size=8, anchor="middle", colour=LIGHT["soft"])
        )
    if tile.strip is not None:
        shapes.append(_strip(view, tile.strip.box))
    x, y, wide, down = tile.on_glass
    shapes.append(_number(view.at(x + wide / 2, y + down / 2), number, tile, 13))
    label = view.at(0, height)
    shapes.append(Words(at=(label[0], label[1] + 22), text=tile.name, size=11))
    return shapes


def _grown(box: Rectangle, by: float) -> Rectangle:
    return box[0] - by, box[1] - by, box[2] + 2 * by, box[3] + 2 * by


def _cut(box: Rectangle, frame: Rectangle) -> Rectangle:
    left, top = max(box[0], frame[0]), max(box[1], frame[1])
    right = min(box[0] + box[2], frame[0] + frame[2])
    bottom = min(box[1] + box[3], frame[1] + frame[3])
    return left, top, right - left, bottom - top
