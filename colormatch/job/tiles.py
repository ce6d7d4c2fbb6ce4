"""One scan file on its way to readings: open, reduce, find the strip, read it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from colormatch.errors import (
    CoveredStripError,
    OtherSheetError,
    ReferenceFileError,
    ScanError,
    TargetError,
)
from colormatch.files.images import open_scan
from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.files.reference_folder import read_folder
from colormatch.files.reference_sets import read_references
from colormatch.files.references import match_reference
from colormatch.files.survey import survey
from colormatch.files.unpacked import unpacked
from colormatch.finding.cornered import chart_at
from colormatch.finding.grids import Search, find_chart
from colormatch.finding.missing import Missing, why_missing
from colormatch.finding.strips import find_strips
from colormatch.job.charts import assumptions, named_layout, with_roles
from colormatch.job.keeping import Kept
from colormatch.job.options import CheckOptions
from colormatch.job.sheets import expected_values, folder_layouts
from colormatch.job.strip_geometry import measured_ppi, mm_per_px, stated_or_measured_ppi
from colormatch.job.tile_readings import surroundings, usable_ids, with_readings
from colormatch.job.tile_records import Opened, Target, Tile
from colormatch.model import FloatArray, Layout, Progress, Reference, Scan

__all__ = [
    "Opened",
    "Target",
    "Tile",
    "finding_step",
    "load_target",
    "look_at",
    "matching_layouts",
    "measured_ppi",
    "mm_per_px",
    "read_strips",
    "stated_or_measured_ppi",
    "surroundings",
    "usable_ids",
    "with_readings",
]

FINDING_PPI = 75.0
"""Resolution of the small picture in which strips are looked for."""
A4_LONG_INCH = 11.7
"""Assumed length of the scan's longer side when the file gives no resolution."""
LARGEST_SMALL = 1600
"""Pixels of the small picture's longer side: an A3 glass at `FINDING_PPI` and some room."""
SMALLEST_SIDE = 64
"""A picture smaller than this, in pixels, cannot show a strip."""
REASONS: dict[str, type[TargetError]] = {
    "covered": CoveredStripError,
    "other sheet": OtherSheetError,
}
"""What is raised for the reasons a strip is not found; else `TargetError`."""


def load_target(options: CheckOptions) -> Target:
    """Read layout and reference files, or take those that ship and say so."""
    assumed = []
    shipped = shipped_layouts()
    if options.layout is None:
        layouts = shipped
    else:
        layout = named_layout(options.layout)
        layouts = {layout.name: layout}
    nominal = {name: shipped_reference(name) for name in layouts if name in shipped}
    if options.references is not None:
        return _folder_target(options, layouts, nominal)
    if not options.reference_files:
        references = nominal
        assumed.append(
            "no reference file was given: the strip's nominal colours are assumed, so tiles can "
            "be made to agree but the colour is not true colour (have the strip measured and "
            "give --reference FILE)"
        )
    else:
        references, layouts = matching_layouts(read_references(options.reference_files), layouts)
    missing = [name for name in layouts if name not in references]
    if missing:
        raise ReferenceFileError(
            f"no reference values for the target {missing[0]!r} of {options.layout}: give its "
            "values with --reference FILE"
        )
    told = {name: with_roles(layout, references[name]) for name, layout in layouts.items()}
    if options.layout is not None:
        assumed += _left_open(layouts, told)
    return Target(
        layouts=told,
        references=references,
        nominal=nominal,
        assumed=tuple(assumed),
        any_sheet=options.any_sheet,
    )


def _left_open(layouts: Mapping[str, Layout], told: Mapping[str, Layout]) -> tuple[str, ...]:
    """Say what the user's own layouts leave open."""
    return tuple(note for name in told for note in assumptions(layouts[name], told[name]))


def _folder_target(
    options: CheckOptions, layouts: Mapping[str, Layout], nominal: Mapping[str, Reference]
) -> Target:
    """Look for our strips, and for designs that have values in the folder."""
    if options.reference_files:
        raise ReferenceFileError(
            "give either --reference FILE or --references FOLDER, not both: one file for all "
            "strips, or a folder from which each strip's own is picked"
        )
    filed = read_folder(Path(options.references or ""))
    wanted = layouts if options.layout is not None else folder_layouts(filed, layouts)
    expected = expected_values(filed, wanted, nominal)
    told = {name: with_roles(layout, expected[name]) for name, layout in wanted.items()}
    notes = () if options.layout is None else _left_open(wanted, told)
    return Target(layouts=told, references=expected, nominal=expected, assumed=notes, filed=filed)


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
        seen = survey(scan, step, progress=progress)
    except BaseException:
        scan.close()
        raise
    return Opened(scan=scan, small=seen.small, step=step, survey=seen, kept=Kept(scan.read))


def read_strips(opened: Opened, target: Target, corners: FloatArray | None = None) -> Tile:
    """Find and read the strips in a scan, or a chart without marks.

    Parameters
    ----------
    opened : Opened
        The scan.
    target : Target
        What to look for.
    corners : ndarray of shape (4, 2), optional
        Where the user says it lies; see `given_corners`.

    Raises
    ------
    TargetError
        If there is none, or too little of it can be used.
    """
    scan, layouts = opened.scan, tuple(target.layouts.values())
    if corners is not None or not layouts[0].marks:
        search = _chart(opened, target, layouts[0], corners)
        if search.strip is None:
            raise TargetError(f"{scan.path}: {search.reason}")
        return with_readings(opened, (search.strip,), target)
    strips = find_strips(
        opened.small,
        opened.step,
        opened.read,
        (scan.width, scan.height),
        tuple(target.layouts.values()),
        references=target.nominal or target.references,
        ppi=scan.ppi,
    )
    if not strips:
        missing = _why_missing(opened, target)
        raise REASONS.get(missing.reason, TargetError)(f"{scan.path}: {missing.words}")
    return with_readings(opened, tuple(strips), target)


def _chart(opened: Opened, target: Target, layout: Layout, corners: FloatArray | None) -> Search:
    """Find a chart by its patches, or read it where the user says it lies."""
    scan, reference = opened.scan, target.references[layout.name]
    size = (scan.width, scan.height)
    if corners is not None:
        return chart_at(corners, opened.read, size, layout, reference)
    plain = _plain(opened)
    if plain:
        return Search(strip=None, reason=plain)
    return find_chart(opened.small, opened.step, opened.read, size, layout, reference, ppi=scan.ppi)


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


def _why_missing(opened: Opened, target: Target) -> Missing:
    scan, plain = opened.scan, _plain(opened)
    if plain:
        return Missing(reason="missing", words=plain)
    return why_missing(
        opened.small,
        opened.step,
        (scan.width, scan.height),
        tuple(target.layouts.values()),
        ppi=scan.ppi,
    )


def _plain(opened: Opened) -> str:
    """Say so if the whole picture has one colour; empty if not."""
    small = opened.small
    if float(small.max() - small.min()) >= 0.02:
        return ""
    tone = "white" if small.mean() > 0.8 else "black" if small.mean() < 0.1 else "plain"
    return f"the whole picture is {tone}, no strip can be seen: scan again"
