"""One scan file on its way to readings: open, reduce, find the strip, read it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from colormatch.errors import ReferenceFileError, ScanError, TargetError
from colormatch.files.images import open_scan
from colormatch.files.layouts import read_layout, shipped_layouts, shipped_reference
from colormatch.files.overview import overview
from colormatch.files.references import match_reference, read_reference
from colormatch.files.unpacked import unpacked
from colormatch.finding.strips import explain_missing, find_strips
from colormatch.fitting.flare import Surroundings
from colormatch.fitting.readings import TileReadings
from colormatch.job.options import CheckOptions
from colormatch.model import FloatArray, Layout, Progress, Reference, Scan, StripReading

FINDING_PPI = 75.0
"""Resolution of the small picture in which strips are looked for."""
A4_LONG_INCH = 11.7
"""Assumed length of the scan's longer side when the file gives no resolution."""
LARGEST_SMALL = 1600
"""Pixels of the small picture's longer side: an A3 glass at `FINDING_PPI` and some room."""
SURROUNDINGS_MM = 2.0
"""Pixel of the picture from which scattered light is estimated."""
SMALLEST_SIDE = 64
"""A picture smaller than this, in pixels, cannot show a strip."""
PRINT_MOTTLE = 0.003
"""Unevenness of a printed patch, share of its light (common practice, no source)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Target:
    """What strips to look for, and what their patches measure."""

    layouts: Mapping[str, Layout]
    references: Mapping[str, Reference]
    nominal: Mapping[str, Reference]
    assumed: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Opened:
    """A scan, and its block means by ``step`` pixels."""

    scan: Scan
    small: FloatArray
    step: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Tile:
    """One scan, its strips as read, and its readings for the fit."""

    opened: Opened
    strips: tuple[StripReading, ...]
    rows: tuple[tuple[int, int], ...]
    readings: TileReadings
    surroundings: Surroundings
    along_from_px: FloatArray

    @property
    def scan(self) -> Scan:
        """The scan itself."""
        return self.opened.scan


def load_target(options: CheckOptions) -> Target:
    """Read layout and reference files, or take those that ship and say so."""
    assumed = []
    shipped = shipped_layouts()
    if options.layout is None:
        layouts = shipped
    else:
        layout = read_layout(options.layout)
        layouts = {layout.name: layout}
    nominal = {name: shipped_reference(name) for name in layouts if name in shipped}
    if options.reference is None:
        references = nominal
        assumed.append(
            "no reference file was given: the strip's nominal colours are assumed, so tiles can "
            "be made to agree but the colour is not true colour (have the strip measured and "
            "give --reference FILE)"
        )
    else:
        references, layouts = matching_layouts(read_reference(options.reference), layouts)
    missing = [name for name in layouts if name not in references]
    if missing:
        raise ReferenceFileError(
            f"no reference values for the target {missing[0]!r} of {options.layout}: give its "
            "values with --reference FILE"
        )
    return Target(layouts=layouts, references=references, nominal=nominal, assumed=tuple(assumed))


def matching_layouts(
    reference: Reference, layouts: Mapping[str, Layout]
) -> tuple[dict[str, Reference], dict[str, Layout]]:
    """Keep the layouts whose patches the reference names, best fit only."""
    fitting: dict[str, Reference] = {}
    problem: ReferenceFileError | None = None
    for name, layout in layouts.items():
        try:
            fitting[name] = match_reference(reference, layout)
        except ReferenceFileError as error:
            problem = problem or error
    if not fitting and problem is not None:
        raise problem
    most = max(len(layouts[name].patches) for name in fitting)
    kept = {name: ref for name, ref in fitting.items() if len(layouts[name].patches) == most}
    return kept, {name: layouts[name] for name in kept}


def look_at(path: Path, progress: Progress, scratch: Path | None = None) -> Opened:
    """Open one scan and reduce it; with ``scratch``, a folder, unpack it there.

    Raises
    ------
    ScanError
        If it is no usable picture, or too small.
    """
    scan = open_scan(path)
    if scratch is not None:
        scan = unpacked(scan, scratch)
    try:
        if min(scan.width, scan.height) < SMALLEST_SIDE:
            raise ScanError(
                f"{scan.path}: the picture is only {scan.width} x {scan.height} pixels, too "
                "small to show a strip; give the scan itself"
            )
        step = finding_step(scan)
        small = overview(scan, step, progress=progress)
    except BaseException:
        scan.close()
        raise
    return Opened(scan=scan, small=small, step=step)


def read_strips(opened: Opened, target: Target) -> Tile:
    """Find and read the strips in a scan.

    Raises
    ------
    TargetError
        If there is none, or too little of it can be used.
    """
    scan = opened.scan
    strips = find_strips(
        opened.small,
        opened.step,
        scan.read,
        (scan.width, scan.height),
        tuple(target.layouts.values()),
        references=target.nominal or target.references,
        ppi=scan.ppi,
    )
    if not strips:
        raise TargetError(f"{scan.path}: {_why_missing(opened, target)}")
    return with_readings(opened, tuple(strips), target)


def finding_step(scan: Scan) -> int:
    """Scan pixels per pixel of the small picture."""
    long_side = max(scan.width, scan.height)
    ppi = max(scan.ppi) if scan.ppi else long_side / A4_LONG_INCH
    # A resolution that makes the scan larger than a room is a wrong tag.
    if not 50 <= ppi <= 4800:
        ppi = long_side / A4_LONG_INCH
    # And one that makes it larger than any glass must not make the small picture huge.
    step = max(1, round(ppi / FINDING_PPI), -(-long_side // LARGEST_SMALL))
    return min(step, max(1, min(scan.width, scan.height) // 40))


def _why_missing(opened: Opened, target: Target) -> str:
    small, scan = opened.small, opened.scan
    if float(small.max() - small.min()) < 0.02:
        tone = "white" if small.mean() > 0.8 else "black" if small.mean() < 0.1 else "plain"
        return f"the whole picture is {tone}, no strip can be seen; scan again"
    return explain_missing(
        small,
        opened.step,
        (scan.width, scan.height),
        tuple(target.layouts.values()),
        ppi=scan.ppi,
    )


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
        raise TargetError(
            f"{scan.path}: only {len(used)} of {len(strips[0].usable)} patches of the strip can "
            "be used, the rest are covered or clipped; clear the strip, check the exposure and "
            "scan again"
        )
    around = surroundings(opened, mm_per_px(strips[0]))
    points = np.array([strip.centres[p] for strip, p in used])
    readings = TileReadings(
        name=str(scan.path),
        ids=tuple(f"{s.layout.name} {s.layout.patches[p].id}" for s, p in used),
        rgb=np.array([strip.rgb[p] for strip, p in used]),
        noise=np.array([reading_noise(strip, p) for strip, p in used]),
        xyz=np.array([target.references[s.layout.name].xyz[p] for s, p in used]),
        neutral=np.array([s.layout.patches[p].role != "chromatic" for s, p in used]),
        along=points @ along[:2] + along[2],
        points=points,
        surroundings=around,
    )
    return Tile(
        opened=opened,
        strips=strips,
        rows=rows,
        readings=readings,
        surroundings=around,
        along_from_px=along,
    )


def mm_per_px(strip: StripReading) -> float:
    """Millimetres per scan pixel, from the strip's own size."""
    return float(1.0 / np.sqrt(abs(np.linalg.det(strip.px_from_mm[:, :2]))))


def measured_ppi(strip: StripReading) -> tuple[float, float]:
    """Pixels per inch along the scan's x and y, from the strip's millimetres."""
    mm_from_px = np.linalg.inv(strip.px_from_mm[:, :2])
    x, y = 25.4 / np.linalg.norm(mm_from_px, axis=0)
    return float(x), float(y)


def stated_or_measured_ppi(scan: Scan, strip: StripReading) -> tuple[float, float]:
    """Resolution as the file states it; without, that along the strip's length.

    Across the strip its marks lie too close together to tell it as well.
    """
    along = float(np.hypot(*strip.px_from_mm[:, 0])) * 25.4
    return scan.ppi or (along, along)


def along_from_px(strip: StripReading) -> FloatArray:
    """Coefficients of ``along = a x + b y + c``, -1 to 1 from end to end."""
    matrix = np.vstack([strip.px_from_mm, [0.0, 0.0, 1.0]])
    inverse = np.linalg.inv(matrix)
    half = strip.layout.width / 2
    row: FloatArray = inverse[0] / half
    row[2] -= 1.0
    return row


def reading_noise(strip: StripReading, patch: int) -> float:
    """Give the standard error of a patch's light, as a share of it."""
    level = max(float(strip.rgb[patch].mean()), 0.02)
    halves = float(np.abs(strip.halves[patch]).mean()) / level
    # A print's own unevenness does not average out over one patch.
    return float(np.hypot(PRINT_MOTTLE, 0.25 * halves))


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
