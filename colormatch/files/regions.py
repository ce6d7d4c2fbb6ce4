"""Region files: where the user, not the program, decides which tile is taken.

A region file is TOML, all lengths in millimetres from the top left corner of the
painting, x to the right and y down::

    [[keep]]                     # take this place from one tile
    tile = "left.tif"            # the scan's file name
    polygon = [[10, 10], [60, 10], [60, 45], [10, 45]]

    [[whole]]                    # let no seam cross this box
    box = [120, 80, 40, 30]      # x, y, width, height

Any number of either, in any order. Where two ``keep`` regions overlap, the later one
in the file is followed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import msgspec

from colormatch.errors import InputError
from colormatch.files.toml_tables import check_keys, decoded, explained
from colormatch.model import KeptRegion, Regions, WholeBox

MAX_BYTES = 4_000_000
"""A thousand polygons of a hundred corners take a quarter of this."""
LEAST_CORNERS = 3
LEAST_AREA = 1e-6
"""Square millimetres a polygon must enclose."""


class KeepEntry(msgspec.Struct, kw_only=True):
    """A place to take from one tile, as the file states it."""

    tile: str
    polygon: list[tuple[float, float]]


class WholeEntry(msgspec.Struct, kw_only=True):
    """A box no seam may cross, as the file states it."""

    box: tuple[float, float, float, float]


class RegionFile(msgspec.Struct, kw_only=True):
    """The whole file."""

    keep: list[KeepEntry] = []
    whole: list[WholeEntry] = []


ENTRIES: dict[str, type[msgspec.Struct]] = {"keep": KeepEntry, "whole": WholeEntry}


def read_regions(path: Path, tiles: Sequence[str]) -> Regions:
    """Read a region file.

    Parameters
    ----------
    path : Path
        A TOML file as described at the top of this module.
    tiles : sequence of str
        File names of the scans, to which ``tile`` must refer.

    Returns
    -------
    Regions
        In file order.

    Raises
    ------
    InputError
        If the file cannot be read, is not TOML, lacks something, has something
        unknown, names a scan that is not there, or a shape without area. The
        message names the file and the item.
    """
    try:
        with Path(path).open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(f"{path}: cannot read the regions ({reason})") from error
    except ValueError as error:
        raise InputError(f"{path!r}: not a usable file name ({error})") from error
    return parse_regions(data, tiles, str(path))


def parse_regions(data: bytes, tiles: Sequence[str], where: str) -> Regions:
    """Read regions from the bytes of their file; ``where`` names it in messages.

    Raises
    ------
    InputError
        As `read_regions` does.
    """
    entries = _typed(
        decoded(
            data,
            where,
            InputError,
            most=MAX_BYTES,
            what="a file of regions",
            advice="save it as UTF-8",
        ),
        where,
    )
    if not entries.keep and not entries.whole:
        raise InputError(f"{where}: has no [[keep]] and no [[whole]] entry: add one, or leave it")
    keep = [_kept(entry, f"{where}: keep {n}", tiles) for n, entry in enumerate(entries.keep, 1)]
    whole = [_whole(entry, f"{where}: whole {n}") for n, entry in enumerate(entries.whole, 1)]
    return Regions(keep=tuple(keep), whole=tuple(whole))


def _kept(entry: KeepEntry, where: str, tiles: Sequence[str]) -> KeptRegion:
    if entry.tile not in tiles:
        close = get_close_matches(entry.tile, tiles, n=1)
        hint = f"did you mean {close[0]!r}?" if close else f"there are {', '.join(tiles)}"
        raise InputError(f"{where}: no scan is called {entry.tile!r}: {hint}")
    if len(entry.polygon) < LEAST_CORNERS:
        raise InputError(f"{where}: a polygon needs 3 corners or more (got {len(entry.polygon)})")
    if not all(math.isfinite(value) for corner in entry.polygon for value in corner):
        raise InputError(f"{where}: corners must be finite numbers of millimetres")
    if abs(_area(entry.polygon)) < LEAST_AREA:
        raise InputError(f"{where}: the polygon encloses no area: list its corners in turn")
    return KeptRegion(tile=entry.tile, polygon=tuple(entry.polygon), where=where)


def _area(polygon: Sequence[tuple[float, float]]) -> float:
    turned = [*polygon[1:], polygon[0]]
    return 0.5 * sum(x * v - u * y for (x, y), (u, v) in zip(polygon, turned, strict=True))


def _whole(entry: WholeEntry, where: str) -> WholeBox:
    if not all(math.isfinite(value) for value in entry.box):
        raise InputError(f"{where}: box must be four finite numbers of millimetres")
    width, height = entry.box[2:]
    if width <= 0 or height <= 0:
        raise InputError(
            f"{where}: width and height must be above 0 mm (got {width:g} and {height:g}): "
            "box is x, y, width, height"
        )
    return WholeBox(box=entry.box, where=where)


def _typed(table: dict[str, Any], where: str) -> RegionFile:
    """Give the table its types, or say which entry has the wrong one."""
    check_keys(table, RegionFile, where, InputError)
    for kind, entry_type in ENTRIES.items():
        entries = table.get(kind, [])
        if not isinstance(entries, list):
            raise InputError(f"{where}: write [[{kind}]], with two brackets on each side")
        for number, entry in enumerate(entries, start=1):
            if isinstance(entry, dict):
                check_keys(entry, entry_type, f"{where}: {kind} {number}", InputError)
    try:
        return msgspec.convert(table, RegionFile)
    except msgspec.ValidationError as error:

        def title(kind: str, index: int) -> str:
            return f"{kind} {index + 1}"

        raise InputError(f"{where}: {explained(str(error), ENTRIES, title)}") from error
