"""From strips as found to the readings a fit is made from."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from colormatch.errors import CoveredStripError
from colormatch.fitting.flare import Surroundings
from colormatch.fitting.readings import TileReadings
from colormatch.job.sheets import Values, filed_values, given_values
from colormatch.job.strip_geometry import along_from_px, mm_per_px, reading_noise
from colormatch.job.tile_records import Opened, Target, Tile
from colormatch.model import FloatArray, Reference, StripReading

SURROUNDINGS_MM = 2.0
"""Pixel of the picture from which scattered light is estimated."""


def with_readings(opened: Opened, strips: tuple[StripReading, ...], target: Target) -> Tile:
    """Give a scan, and strips found in it, the readings a fit is made from.

    Raises
    ------
    TargetError
        If too little of the strips can be used.
    """
    scan = opened.scan
    along = along_from_px(strips[0])
    rows = tuple(
        (s, int(p)) for s, strip in enumerate(strips) for p in np.flatnonzero(strip.usable)
    )
    used = [(strips[s], p) for s, p in rows]
    if len(used) < 12:
        raise CoveredStripError(
            f"{scan.path}: only {len(used)} of {len(strips[0].usable)} patches of the strip can "
            "be used, the rest are covered or clipped: clear the strip, check the exposure and "
            "scan again"
        )
    values = [_values(str(scan.path), strip, target) for strip in strips]
    names = [_sheet_name(v.reference, s, target) for v, s in zip(values, strips, strict=True)]
    around = surroundings(opened, mm_per_px(strips[0]))
    points = np.array([strip.centres[p] for strip, p in used])
    readings = TileReadings(
        name=str(scan.path),
        ids=tuple(f"{names[s]} {strips[s].layout.patches[p].id}" for s, p in rows),
        rgb=np.array([strip.rgb[p] for strip, p in used]),
        noise=np.array([reading_noise(strip, p) for strip, p in used]),
        xyz=np.array([values[s].reference.xyz[p] for s, p in rows]),
        neutral=np.array([s.layout.patches[p].role != "chromatic" for s, p in used]),
        along=points @ along[:2] + along[2],
        points=points,
        surroundings=around,
        doubt=_doubt([values[s].reference for s in range(len(strips))], rows),
    )
    return Tile(
        opened=opened,
        strips=strips,
        rows=rows,
        readings=readings,
        surroundings=around,
        along_from_px=along,
        references=tuple(one.reference for one in values),
        assumed=tuple(line for one in values for line in one.assumed),
    )


def _doubt(references: Sequence[Reference], rows: Sequence[tuple[int, int]]) -> FloatArray | None:
    """Give the uncertainty of each row's reference, if any is stated."""
    if all(one.sigma is None for one in references):
        return None
    return np.array([0.0 if (sigma := references[s].sigma) is None else sigma[p] for s, p in rows])


def _values(where: str, strip: StripReading, target: Target) -> Values:
    """Give a strip's values: from the folder, or those given, if they are its own."""
    if target.filed is not None:
        return filed_values(where, strip, target.filed)
    reference = target.references[strip.layout.name]
    return given_values(where, strip, reference, any_sheet=target.any_sheet)


def _sheet_name(reference: Reference, strip: StripReading, target: Target) -> str:
    """Name a sheet so that patches of one are known in all tiles, and of two kept apart."""
    if target.filed is None or reference.path is None:
        return strip.layout.name
    return f"{strip.layout.name} {reference.path.name}"


def surroundings(opened: Opened, mm: float) -> Surroundings:
    """Reduce the small picture further for the estimate of scattered light."""
    import cv2

    small, step = opened.small, opened.step
    times = max(1, round(SURROUNDINGS_MM / (step * mm)))
    rows, columns = (max(1, n // times) for n in small.shape[:2])
    cut = np.ascontiguousarray(small[: rows * times, : columns * times], dtype=np.float32)
    picture = cv2.resize(cut, (columns, rows), interpolation=cv2.INTER_AREA)
    return Surroundings(
        picture=np.asarray(picture, dtype=np.float64),
        step=float(step * times),
        mm_per_px=step * times * mm,
    )


def usable_ids(tile: Tile) -> Sequence[str]:
    """Patch names, without the strip's name, of the readings' rows."""
    return [tile.strips[s].layout.patches[p].id for s, p in tile.rows]
