"""The grid of tiles: which way up, how many, and on which side each strip lies."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from colormatch.planning import wording
from colormatch.planning.splitting import Part, Room, parts_needed, split
from colormatch.plans import Frame, Side, Size, StripSpot, TileGrid, TilePlan, Wish

RIM = 5.0
"""Of glass left beside an edge of the painting, mm, so that the scan shows the edge."""
MARGIN = 2.0
"""Between the strip and the edge of the glass, mm."""
GAPS = {Frame.STRETCHED: 10.0, Frame.BOARD: 3.0, Frame.PAPER: 3.0}
"""Between strip and painting, mm: cloth that lies over a strip's back lifts beside it."""
SIDES = (Side.BOTTOM, Side.TOP, Side.LEFT, Side.RIGHT)
"""In the order of liking: along the lamp, and away from the start of the glass."""


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One way to lay the painting and the strips."""

    wish: Wish
    turned: bool
    sides: tuple[Side, ...]
    strip: str
    strip_size: Size
    columns: int
    rows: int

    @property
    def lying(self) -> Size:
        """Size of the painting as it lies."""
        width, height = self.wish.painting
        return (height, width) if self.turned else (width, height)

    @property
    def bare(self) -> int:
        """Number of tiles that can have no strip: those on none of the chosen sides."""
        used = {side: side in self.sides for side in SIDES}
        inner = self.columns - used[Side.LEFT] - used[Side.RIGHT]
        return max(0, inner) * max(0, self.rows - used[Side.TOP] - used[Side.BOTTOM])

    def side(self, column: int, row: int) -> Side | None:
        """Give the side on which a tile's strip lies, columns and rows from 0."""
        there = {
            Side.TOP: row == 0,
            Side.BOTTOM: row == self.rows - 1,
            Side.LEFT: column == 0,
            Side.RIGHT: column == self.columns - 1,
        }
        return next((side for side in SIDES if side in self.sides and there[side]), None)


def arrange(wish: Wish, strips: Mapping[str, Size]) -> TileGrid:
    """Find the layout with the fewest tiles without a strip, then the fewest tiles.

    Parameters
    ----------
    wish : Wish
    strips : mapping of str to Size
        Length and width in mm of the strips there are, the one liked best first.

    Returns
    -------
    TileGrid
        Where several are equal: the start of the glass uncovered, the painting
        upright, strips along the lamp and away from the start.

    Raises
    ------
    InputError
        If a size makes no sense, or no layout exists; the message says the way out.
    """
    wording.refuse_nonsense(wish)
    wording.refuse_small_glass(wish, strips, MARGIN)
    best = min(_choices(wish, strips), key=_rank, default=None)
    if best is None:
        raise wording.impossible(wish, _most_overlap(wish, strips))
    return _grid(best)


def _rank(choice: Choice) -> tuple[int, int, bool, bool, int]:
    order = [SIDES.index(side) for side in choice.sides]
    return (
        choice.bare,
        choice.columns * choice.rows,
        # A tile of a lower row reaches across the start of the glass.
        choice.wish.clear > 0 and choice.rows > 1,
        choice.turned,
        # Few sides first, then those liked better.
        100 * len(order) + sum(order),
    )


def _choices(wish: Wish, strips: Mapping[str, Size]) -> Iterator[Choice]:
    for turned in (False, True):
        for count in range(1, len(SIDES) + 1):
            for sides in combinations(SIDES, count):
                choice = _choice(wish, strips, turned, sides)
                if choice is not None:
                    yield choice


def _choice(
    wish: Wish, strips: Mapping[str, Size], turned: bool, sides: tuple[Side, ...]
) -> Choice | None:
    """Lay the painting with the first strip that fits all of the sides, if any does."""
    room = min(_side_length(wish, side) for side in sides)
    fitting = [(name, size) for name, size in strips.items() if size[0] <= room]
    if not fitting:
        return None
    name, size = fitting[0]
    across, down = rooms(wish, sides, size[1])
    width, height = wish.painting[::-1] if turned else wish.painting
    columns = parts_needed(width, across, wish.overlap)
    rows = parts_needed(height, down, wish.overlap)
    if columns is None or rows is None:
        return None
    choice = Choice(
        wish=wish, turned=turned, sides=sides, strip=name, strip_size=size,
        columns=columns, rows=rows,
    )  # fmt: skip
    return choice if choice.bare < columns * rows else None


def _side_length(wish: Wish, side: Side) -> float:
    """Length a strip may have on one side of the glass, mm."""
    length = wish.glass[0] if side in (Side.TOP, Side.BOTTOM) else wish.glass[1] - wish.clear
    return length - 2 * MARGIN


def band(frame: Frame, strip_width: float) -> float:
    """Give the room a strip takes beside the painting, gaps included, mm."""
    return MARGIN + strip_width + GAPS[frame]


def rooms(wish: Wish, sides: tuple[Side, ...], strip_width: float) -> tuple[Room, Room]:
    """Give the room for painting along x and along y of the glass."""
    lost = {side: band(wish.frame, strip_width) if side in sides else RIM for side in SIDES}
    across = Room(start=0.0, end=wish.glass[0], before=lost[Side.LEFT], after=lost[Side.RIGHT])
    down = Room(start=wish.clear, end=wish.glass[1], before=lost[Side.TOP], after=lost[Side.BOTTOM])
    return across, down


def _most_overlap(wish: Wish, strips: Mapping[str, Size]) -> float:
    """Give the overlap that any layout can have at most, mm."""
    width = min(size[1] for size in strips.values())
    whole = min(wish.glass[0], wish.glass[1] - wish.clear)
    return whole - band(wish.frame, width)


def _grid(choice: Choice) -> TileGrid:
    wish = choice.wish
    across, down = rooms(wish, choice.sides, choice.strip_size[1])
    width, height = choice.lying
    columns = split(width, across, wish.overlap, choice.columns)
    rows = split(height, down, wish.overlap, choice.rows)
    digits = len(str(choice.columns * choice.rows))
    tiles: list[TilePlan] = []
    for r, row in enumerate(rows):
        for c, column in enumerate(columns):
            number = f"{len(tiles) + 1:0{digits}d}"
            tiles.append(_tile(choice, f"tile-{number}.tif", (c, r), (column, row)))
    return TileGrid(
        wish=wish,
        turned=choice.turned,
        lying=choice.lying,
        columns=choice.columns,
        rows=choice.rows,
        overlaps=(_overlap(columns), _overlap(rows)),
        strip=choice.strip,
        strip_size=choice.strip_size,
        gap=GAPS[wish.frame],
        tiles=tuple(tiles),
    )


def _overlap(parts: tuple[Part, ...]) -> float | None:
    return None if len(parts) == 1 else parts[0].last - parts[1].first


def _tile(choice: Choice, name: str, place: tuple[int, int], parts: tuple[Part, Part]) -> TilePlan:
    column, row = parts
    size = column.last - column.first, row.last - row.first
    sheet = (column.origin, row.origin, *choice.lying)
    return TilePlan(
        name=name,
        column=place[0] + 1,
        row=place[1] + 1,
        part=(column.first, row.first, *size),
        on_glass=(column.origin + column.first, row.origin + row.first, *size),
        painting_on_glass=sheet,
        strip=_spot(choice, place),
        hangs=_hangs(sheet, choice.wish.glass),
        covers_start=sheet[1] < choice.wish.clear - 1e-6,
        links=_links(choice, place),
    )


def _spot(choice: Choice, place: tuple[int, int]) -> StripSpot | None:
    """Put the strip in the middle of its side, a margin away from the edge of the glass."""
    side = choice.side(*place)
    if side is None:
        return None
    (width, height), clear = choice.wish.glass, choice.wish.clear
    length, breadth = choice.strip_size
    middle_x, middle_y = (width - length) / 2, (clear + height - length) / 2
    box = {
        Side.TOP: (middle_x, clear + MARGIN, length, breadth),
        Side.BOTTOM: (middle_x, height - MARGIN - breadth, length, breadth),
        Side.LEFT: (MARGIN, middle_y, breadth, length),
        Side.RIGHT: (width - MARGIN - breadth, middle_y, breadth, length),
    }[side]
    return StripSpot(side=side, box=box)


def _hangs(sheet: tuple[float, float, float, float], glass: Size) -> dict[str, float]:
    x, y, width, height = sheet
    over = {
        Side.TOP: -y,
        Side.BOTTOM: y + height - glass[1],
        Side.LEFT: -x,
        Side.RIGHT: x + width - glass[0],
    }
    return {side.value: beyond for side, beyond in over.items() if beyond > 1e-6}


def _links(choice: Choice, place: tuple[int, int]) -> int:
    """Overlaps to the nearest tile with a strip: tiles away from the nearest side with one."""
    column, row = place
    away = {
        Side.TOP: row,
        Side.BOTTOM: choice.rows - 1 - row,
        Side.LEFT: column,
        Side.RIGHT: choice.columns - 1 - column,
    }
    return min(away[side] for side in choice.sides)
