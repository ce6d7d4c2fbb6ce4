"""The painter's own paints: their sheet found in its scan, read, and set against its values."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from colormatch.drawing.swatch_layout import whole_sheets
from colormatch.errors import InputError, ReferenceFileError, TargetError
from colormatch.files.layouts import read_layout
from colormatch.files.swatch_values import known_boxes, read_swatch_values
from colormatch.finding.targets import find_targets
from colormatch.fitting.deciding import LEAST_PAINTS, Decision, decide, picture_light
from colormatch.fitting.paints import rows_of
from colormatch.fitting.problem import Solution
from colormatch.fitting.readings import TileReadings
from colormatch.job.options import CheckOptions
from colormatch.job.strip_geometry import reading_noise
from colormatch.job.tiles import Opened, Target, Tile, look_at, read_strips
from colormatch.model import Layout, Progress, Reference, StripReading

BESIDE_MM = 2.0
"""How far round a strip the picture is not asked for its hues."""
FARTHEST_ALONG = 1.2
"""How far beyond the strip's ends, in half lengths, its fall-off is believed."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Swatches:
    """The sheet of paints as scanned, and what its paints measure.

    Attributes
    ----------
    tile : Tile
        Its scan, by the strip beside the sheet.
    sheet : StripReading
        The boxes that have values.
    values : Reference
        Of those boxes, in the same order.
    readings : TileReadings
        The boxes that can be used.
    left_out : tuple of str
        Boxes that take no part, and why.
    """

    tile: Tile
    sheet: StripReading
    values: Reference
    readings: TileReadings
    left_out: tuple[str, ...]

    @property
    def scan(self) -> Path:
        """The file."""
        return self.tile.scan.path


def read_swatches(
    options: CheckOptions, target: Target, stack: ExitStack, progress: Progress
) -> Swatches | None:
    """Find and read the sheet of paints; None if none was given.

    Raises
    ------
    InputError
        If the scan shows no sheet or no strip, or the values cannot be used.
    """
    if options.swatches is None:
        _refuse_alone(options)
        return None
    reference = _measured(options)
    opened = look_at(options.swatches, progress)
    stack.callback(opened.scan.close)
    tile = _beside_strip(opened, target)
    _require_values(tile)
    found = _find_sheet(opened, _sheets(options, reference))
    if found is None:
        raise TargetError(
            f"{options.swatches}: the sheet of paints is not found: lay it flat and whole on the "
            "glass, its four ring marks clear, with a strip beside it; give the values that "
            "belong to this sheet, and its own layout with --swatch-layout if it is not one of "
            "ours"
        )
    return _with_readings(tile, *found, reference)


def _refuse_alone(options: CheckOptions) -> None:
    for name, given in (
        ("--swatch-reference", options.swatch_reference),
        ("--swatch-layout", options.swatch_layout),
    ):
        if given is not None:
            raise InputError(f"{name} {given}: give the scan of the paints too, with --swatches")


def _measured(options: CheckOptions) -> Reference:
    """Read the paints' values."""
    if options.swatch_reference is None:
        raise InputError(
            f"--swatches {options.swatches}: give the measured values of the paints too, with "
            "--swatch-reference FILE (colormatch target --swatches writes a table to fill in)"
        )
    return read_swatch_values(options.swatch_reference)


def _require_values(tile: Tile) -> None:
    """Refuse a strip that nobody measured: what paints say would then be fitted to guesses."""
    if any(reference.kind == "nominal" for reference in tile.references):
        raise InputError(
            f"{tile.scan.path}: paints can be fitted only together with a measured strip; have "
            "the strip measured too and give its values with --reference FILE"
        )


def _beside_strip(opened: Opened, target: Target) -> Tile:
    try:
        return read_strips(opened, target)
    except TargetError as error:
        raise TargetError(
            f"{error} (the sheet of paints is scanned with a strip beside it: the light of this "
            "scan is known from that strip)"
        ) from error


def _sheets(options: CheckOptions, reference: Reference) -> list[tuple[Layout, Layout, Reference]]:
    """Each sheet it may be: whole, with its known boxes only, and their values."""
    layout = options.swatch_layout
    sheets = whole_sheets() if layout is None else (read_layout(layout),)
    known = [(sheet, *known_boxes(reference, sheet)) for sheet in sheets]
    enough = [one for one in known if len(one[1].patches) >= LEAST_PAINTS]
    if not enough:
        most = max(len(one[1].patches) for one in known)
        raise ReferenceFileError(
            f"{reference.path}: values for {most} boxes of the sheet, and paints help from "
            f"{LEAST_PAINTS} on: paint and measure more, or correct the ids (P1, P2 …)"
        )
    # The sheet whose every row has values is likelier than one with rows left empty.
    return sorted(enough, key=lambda one: (-len(one[1].patches), len(one[0].patches)))


def _find_sheet(
    opened: Opened, sheets: Sequence[tuple[Layout, Layout, Reference]]
) -> tuple[StripReading, Layout, Reference] | None:
    scan = opened.scan
    for whole, part, values in sheets:
        found = find_targets(
            opened.small,
            opened.step,
            scan.read,
            (scan.width, scan.height),
            (part,),
            references={part.name: values},
            ppi=scan.ppi,
        )
        if found:
            return found[0], whole, values
    return None


def _with_readings(
    tile: Tile, sheet: StripReading, whole: Layout, values: Reference, reference: Reference
) -> Swatches:
    used = np.flatnonzero(sheet.usable)
    left_out = _left_out(sheet, whole)
    if len(used) < LEAST_PAINTS:
        raise TargetError(
            f"{tile.scan.path}: only {len(used)} paints of the sheet can be used, and they help "
            f"from {LEAST_PAINTS} on ({'; '.join(left_out)}); clean the glass, paint the boxes "
            "evenly, check the values, and scan the sheet again"
        )
    points = sheet.centres[used]
    along = points @ tile.along_from_px[:2] + tile.along_from_px[2]
    readings = TileReadings(
        name=str(tile.scan.path),
        ids=tuple(sheet.layout.patches[p].id for p in used),
        rgb=sheet.rgb[used],
        noise=np.array([reading_noise(sheet, int(p)) for p in used]),
        xyz=values.xyz[used],
        neutral=np.zeros(len(used), dtype=bool),
        along=np.clip(along, -FARTHEST_ALONG, FARTHEST_ALONG),
        points=points,
        surroundings=tile.surroundings,
    )
    noted = replace(values, notes=reference.notes, path=reference.path)
    return Swatches(tile=tile, sheet=sheet, values=noted, readings=readings, left_out=left_out)


def _left_out(sheet: StripReading, whole: Layout) -> tuple[str, ...]:
    known = {patch.id for patch in sheet.layout.patches}
    ids = [patch.id for patch in whole.patches]
    # Boxes after the last known one may not even be printed.
    last = max(ids.index(name) for name in known)
    unknown = [name for name in ids[:last] if name not in known]
    odd: list[str] = []
    clipped: list[str] = []
    for patch, usable, share in zip(sheet.layout.patches, sheet.usable, sheet.clipped, strict=True):
        if not usable:
            (clipped if share > 0.1 else odd).append(patch.id)
    groups = (
        (unknown, "no values were given"),
        (clipped, "clipped in the scan"),
        (odd, "uneven, covered, not painted, or of another colour than its values say"),
    )
    return tuple(f"{', '.join(ids)}: {why}" for ids, why in groups if ids)


def decide_map(
    tiles: Sequence[Tile], solution: Solution, swatches: Swatches, scan: int
) -> Decision:
    """Choose the map from light to colour for a group of tiles.

    Parameters
    ----------
    tiles : sequence of Tile
        The group, in the solution's order; ``scan`` is the one that shows the paints.
    """
    rows = rows_of([tile.readings for tile in tiles], solution, swatches.readings, scan)
    pictures = [
        picture_light(solution, t, tile.surroundings, beside_strips(tile))
        for t, tile in enumerate(tiles)
        if t != scan
    ]
    return decide(rows, solution.xyz_from_rgb, pictures)


def beside_strips(tile: Tile) -> NDArray[np.bool_]:
    """Which places of the tile's small picture lie clear of its strips, (h, w)."""
    around = tile.surroundings
    rows, columns = around.picture.shape[:2]
    centre = (around.step - 1) / 2
    y, x = np.mgrid[0:rows, 0:columns] * around.step + centre
    keep = np.ones((rows, columns), dtype=bool)
    for strip in tile.strips:
        back = np.linalg.inv(strip.px_from_mm[:, :2])
        mm = (np.stack([x, y], axis=-1) - strip.px_from_mm[:, 2]) @ back.T
        size = np.array([strip.layout.width, strip.layout.height])
        keep &= ~((mm > -BESIDE_MM) & (mm < size + BESIDE_MM)).all(axis=-1)
    return keep
