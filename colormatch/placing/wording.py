"""Sentences in which placing refuses or doubts, in one place."""

from __future__ import annotations

from colormatch.errors import PlacingError
from colormatch.placing.records import Doubt


def twice(first: str, second: str, share: float) -> PlacingError:
    """Two scans show the same place."""
    return PlacingError(
        f"{first} and {second} show the same part of the painting ({100 * share:.0f} % of it "
        "is in both): leave one of them out"
    )


def small_overlap(first: str, second: str, share: float) -> PlacingError:
    """Too little in common to place one by the other."""
    return PlacingError(
        f"{first} and {second} share only {100 * share:.1f} % of their area, too little to "
        "place one by the other: scan one of them again so that they share 10 % to 50 %"
    )


def strangers(tile: str, nearest: str) -> PlacingError:
    """Tile that matches nothing, though it is not plain."""
    return PlacingError(
        f"nothing in {tile} is found again in {nearest} or any other tile: it may belong to "
        "another painting, or they share less than 5 %; leave it out, or scan it again with "
        "10 % to 50 % in common"
    )


def plain(tile: str, nearest: str) -> PlacingError:
    """Tile that matches nothing because its margin shows next to nothing."""
    return PlacingError(
        f"{tile} cannot be placed beside {nearest}: what they may share is too plain to hold on "
        "to; state how the tiles lie (such as --order 2x2), or scan again with a wider overlap "
        "that takes in some detail"
    )


def empty(tile: str) -> PlacingError:
    """Mask leaves nothing."""
    return PlacingError(
        f"no painting was found in {tile}: check that the scan shows the painting and not only "
        "the lid or the strip"
    )


def wrong_order(columns: int, rows: int, count: int) -> PlacingError:
    """Grid stated does not hold the tiles given."""
    return PlacingError(
        f"an order of {columns}x{rows} holds {columns * rows} tiles, but {count} were given: "
        "state columns x rows so that their product is the number of scans"
    )


def by_hint(tile: str, neighbour: str) -> Doubt:
    """Placed by the order alone."""
    return Doubt(
        kind="hint",
        tiles=(tile, neighbour),
        text=f"{tile} could not be placed beside {neighbour} by its picture; it lies where the "
        "stated order and the other tiles' spacing put it, perhaps centimetres off: scan it "
        "again with more detail in common",
    )


def near_hint(tile: str, neighbour: str) -> Doubt:
    """Found, but only by looking where the order said."""
    return Doubt(
        kind="hint",
        tiles=(tile, neighbour),
        text=f"{tile} was placed beside {neighbour} by its picture only after looking where the "
        "stated order put it: check the seam between them",
    )


def weak(first: str, second: str, spread: float) -> Doubt:
    """Predicted error too large."""
    return Doubt(
        kind="weak",
        tiles=(first, second),
        text=f"{first} and {second} share little to hold on to: they may be off by "
        f"{2 * spread:.1f} pixels somewhere along their overlap; check the seam, or scan again "
        "with a wider overlap",
    )


def unchecked(first: str, second: str) -> Doubt:
    """No block of an overlap could be compared."""
    return Doubt(
        kind="unchecked",
        tiles=(first, second),
        text=f"what {first} and {second} share is too plain or too small to check; they are "
        "placed through other tiles",
    )


def conflict(first: str, second: str, distance: float) -> Doubt:
    """Find that the other finds exclude."""
    return Doubt(
        kind="conflict",
        tiles=(first, second),
        text=f"{first} and {second} alone seem to lie {distance:.0f} mm from where the other "
        "tiles put them; that find was left out: check whether the painting repeats itself there",
    )


def scale(tile: str, found: float) -> Doubt:
    """Ppi of the file does not fit."""
    return Doubt(
        kind="scale",
        tiles=(tile,),
        text=f"{tile} is {100 * abs(found - 1):.1f} % "
        f"{'smaller' if found > 1 else 'larger'} than its pixels per inch say, compared with the "
        "other tiles; the picture was believed: check the resolution it was scanned at",
    )


def residual(first: str, second: str, rms: float, left_out: float) -> Doubt:
    """Blocks that do not fit one smooth pose."""
    return Doubt(
        kind="residual",
        tiles=(first, second),
        text=f"{first} and {second} do not fit everywhere: {rms:.2f} pixels RMS, "
        f"{100 * left_out:.0f} % of the places left out; the painting may have moved or buckled "
        "between the scans: look at the seam",
    )
