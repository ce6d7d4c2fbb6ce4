"""How a painting is to be scanned, as records a plan is printed from; no arithmetic.

Places on the glass are seen as the scan shows them: x to the right along the lamp,
y down in the direction the carriage runs, millimetres from the glass's corner where
the scan begins.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Size = tuple[float, float]
"""Width and height, mm."""
Rectangle = tuple[float, float, float, float]
"""x, y, width, height, mm."""


class Frame(StrEnum):
    """What the paint is on."""

    STRETCHED = "stretched"
    BOARD = "board"
    PAPER = "paper"


class Side(StrEnum):
    """A side of the glass as the scan shows it."""

    TOP = "top"
    BOTTOM = "bottom"
    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What a plan is asked for.

    Attributes
    ----------
    painting, glass : Size
    clear : float
        Start of the glass, in mm, that holds neither strip nor a part relied on.
    overlap : float
        The least that neighbours must share, mm.
    ppi : float
    frame : Frame
    """

    painting: Size
    glass: Size = (216.0, 297.0)
    clear: float = 25.0
    overlap: float = 30.0
    ppi: float = 600.0
    frame: Frame = Frame.STRETCHED


@dataclass(frozen=True, kw_only=True)
class StripSpot:
    """Where a strip lies: the side of the glass, and its place there."""

    side: Side
    box: Rectangle


@dataclass(frozen=True, kw_only=True)
class TilePlan:
    """One scan.

    Attributes
    ----------
    name : str
        File name that keeps the order.
    column, row : int
        From 1, as the scans show the painting.
    part : Rectangle
        What of the painting this tile is relied on for, mm from the corner of the
        painting as it lies.
    on_glass, painting_on_glass : Rectangle
        Where that part, and the whole painting, lie on the glass.
    strip : StripSpot or None
        None where no edge of the painting is on the glass.
    hangs : dict
        Millimetres by which the painting reaches beyond each side of the glass.
    covers_start : bool
        Whether the painting lies across the start of the glass.
    links : int
        Overlaps between this tile and the nearest one with a strip.
    """

    name: str
    column: int
    row: int
    part: Rectangle
    on_glass: Rectangle
    painting_on_glass: Rectangle
    strip: StripSpot | None
    hangs: dict[str, float]
    covers_start: bool
    links: int


@dataclass(frozen=True, kw_only=True)
class TileGrid:
    """All scans of a painting.

    Attributes
    ----------
    wish : Wish
    turned : bool
        Whether the painting lies a quarter turn clockwise.
    lying : Size
        The painting as it lies.
    columns, rows : int
    overlaps : tuple
        Between columns and between rows, mm; None where there is one only.
    strip : str
        Name of the layout.
    strip_size : Size
        Length and width of the strip, mm.
    gap : float
        Between strip and painting, mm.
    tiles : tuple of TilePlan
        Row by row.
    """

    wish: Wish
    turned: bool
    lying: Size
    columns: int
    rows: int
    overlaps: tuple[float | None, float | None]
    strip: str
    strip_size: Size
    gap: float
    tiles: tuple[TilePlan, ...]

    @property
    def bare(self) -> tuple[TilePlan, ...]:
        """Tiles without a strip."""
        return tuple(tile for tile in self.tiles if tile.strip is None)


@dataclass(frozen=True, kw_only=True)
class Sizes:
    """What the files will take, bytes.

    ``scan`` and ``result`` are uncompressed; ``packed`` is the share that deflate
    is assumed to leave of them. ``scans`` counts the files that are kept.
    ``disk_merging`` is taken besides ``disk`` while merge works, and given back.
    """

    scan: int
    scan_pixels: tuple[int, int]
    scans: int
    result: int
    result_pixels: tuple[int, int]
    packed: float
    disk: int
    disk_packed: int
    disk_merging: int


@dataclass(frozen=True, kw_only=True)
class Times:
    """How long it will take, seconds; ``scans`` counts warm-up and blank sheet too."""

    per_scan: float
    per_laying: float
    scans: int
    total: float


@dataclass(frozen=True, kw_only=True)
class PrintSize:
    """Size of a print in mm at a resolution in ppi."""

    ppi: float
    size: Size


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Another way that spares tiles without a strip, in words, and what it takes."""

    text: str
    tiles: int


@dataclass(frozen=True, kw_only=True)
class PlanReport:
    """A plan with all that a painter should know before the first scan.

    ``checking`` and ``command`` are the commands to give after each scan and at the
    end; ``problem`` says which tiles can have no strip, ``alternatives`` what helps.
    """

    grid: TileGrid
    sizes: Sizes
    times: Times
    prints: tuple[PrintSize, ...]
    checking: str
    command: str
    problem: str | None = None
    alternatives: tuple[Alternative, ...] = ()
    laying: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    picture: str | None = None
