"""Check: a verdict for every tile, nothing written."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path

from colormatch.errors import (
    ContradictedError,
    CoveredStripError,
    FitError,
    InputError,
    OtherSerialError,
    OtherSheetError,
    TargetError,
)
from colormatch.inspecting.records import Inspected
from colormatch.job.between import findings_between
from colormatch.job.corners import given_corners
from colormatch.job.findings import advice_of, other_settings, with_proven
from colormatch.job.fit import FittedTile, fit_tiles
from colormatch.job.inspection import inspect
from colormatch.job.looking_ahead import looking_ahead
from colormatch.job.lying import Found
from colormatch.job.options import CheckOptions
from colormatch.job.paging import leave_report, refuse_report
from colormatch.job.report import failed_report, tile_report, tiles_agree, without_strip_report
from colormatch.job.sheets import least_trusted
from colormatch.job.swatch_report import Painted, paint_notes, swatch_report
from colormatch.job.swatches import Swatches, read_swatches
from colormatch.job.tiles import Opened, Target, Tile, load_target, read_strips
from colormatch.job.views import tile_view, with_curves
from colormatch.model import FloatArray, Progress, Reference, Scan, silent
from colormatch.verdict import Finding, JobReport, Kind, TileReport
from colormatch.views import TileView, Views

CAUSES: dict[type[InputError], Kind] = {
    CoveredStripError: Kind.STRIP_COVERED,
    OtherSheetError: Kind.STRIP_OTHER_SHEET,
    ContradictedError: Kind.STRIP_OTHER_SHEET,
    OtherSerialError: Kind.STRIP_OTHER_SHEET,
    TargetError: Kind.STRIP_MISSING,
}
"""What a failure is about; the first that fits, so the particular before the general."""


@dataclass(eq=False)
class Measured:
    """All scans of a job, looked at and fitted; failures beside them.

    ``stripless`` are scans in which no strip could be read; their reason is
    among the ``failures``. ``views`` are what a page draws, by scan; ``kinds`` what
    a failure's finding is about, where the strip is to blame. ``painted`` is
    the sheet of own paints, if one was given and any scan could be fitted.
    """

    target: Target
    fitted: list[FittedTile] = field(default_factory=list)
    stripless: list[Opened] = field(default_factory=list)
    failures: dict[str, str] = field(default_factory=dict)
    history: list[str] = field(default_factory=list)
    views: dict[str, TileView] = field(default_factory=dict)
    painted: Painted | None = None
    kinds: dict[str, Kind] = field(default_factory=dict)

    def fail(self, scan: str, error: InputError) -> None:
        """Note why a scan could not be used."""
        self.failures[scan] = str(error)
        kinds = [kind for cause, kind in CAUSES.items() if isinstance(error, cause)]
        if kinds:
            self.kinds[scan] = kinds[0]


def check(
    paths: Sequence[Path], options: CheckOptions, *, progress: Progress = silent
) -> JobReport:
    """Give a verdict for every scan.

    Parameters
    ----------
    paths : sequence of Path
        Scan files.
    options : CheckOptions
        Reference, layout and tolerance.
    progress : callable, optional
        Told the task and the share done.

    Returns
    -------
    JobReport
        One `TileReport` per path, in order; scans that cannot be processed
        carry their error, the others are judged without them.

    Raises
    ------
    InputError
        If the reference or the layout cannot be used.
    OutputError
        If the report cannot be written or exists already.
    """
    refuse_report(options)
    with ExitStack() as stack:
        measured = measure(paths, options, stack, progress)
        return leave_report(report_of("check", paths, options, measured), options)


def measure(
    paths: Sequence[Path],
    options: CheckOptions,
    stack: ExitStack,
    progress: Progress,
    *,
    scratch: Path | None = None,
) -> Measured:
    """Look at every scan and fit all that show a strip; scans stay open in ``stack``.

    With ``scratch``, a folder, scans are unpacked there for later looks.
    """
    ahead = stack.enter_context(looking_ahead(paths, progress, scratch))
    corners = given_corners(options, paths)
    measured = Measured(target=load_target(options))
    swatches = read_swatches(options, measured.target, stack, progress)
    # Scans are inspected while the next one's strip is looked for, and while all are fitted.
    with ThreadPoolExecutor(1) as beside:
        tiles, inspections = _read_all(paths, ahead, measured, corners, stack, beside)
        together = _fit_all(tiles, measured, swatches)
        measured.fitted = _with_inspections(together, inspections, measured)
    if swatches is not None and measured.fitted:
        measured.painted = Painted(swatches=swatches, fitted=measured.fitted.pop())
    for fitted in measured.fitted:
        name = fitted.tile.readings.name
        measured.views[name] = with_curves(measured.views[name], fitted)
    measured.history += [
        f"read {len(paths)} scans, found the strip in {len(tiles)}",
        "fitted tone curve, scattered light, matrix and gains",
    ]
    return measured


def _read_all(
    paths: Sequence[Path],
    ahead: Iterator[Callable[[], Opened]],
    measured: Measured,
    corners: Mapping[Path, FloatArray],
    stack: ExitStack,
    beside: ThreadPoolExecutor,
) -> tuple[list[Tile], dict[str, Future[Inspected]]]:
    """Read the strips of all scans; inspections are still going on in ``beside``."""
    tiles: list[Tile] = []
    inspections: dict[str, Future[Inspected]] = {}
    for path, look in zip(paths, ahead, strict=True):
        try:
            opened = look()
            stack.callback(opened.scan.close)
            measured.views[str(path)] = tile_view(opened)
            tile = read_strips(opened, measured.target, corners.get(path))
            # What an inspection needs of a scan is large: one may wait behind the one at work.
            wait(list(inspections.values())[:-1])
            inspections[str(path)] = beside.submit(inspect, tile)
            tiles.append(replace(tile, opened=opened.lighter()))
            measured.views[str(path)] = tile_view(opened, tile.strips)
        except TargetError as error:
            measured.fail(str(path), error)
            measured.stripless.append(opened.lighter())
        except InputError as error:
            measured.fail(str(path), error)
    return tiles, inspections


def _with_inspections(
    fitted: list[FittedTile], inspections: dict[str, Future[Inspected]], measured: Measured
) -> list[FittedTile]:
    """Put to each tile what its inspection found; set aside those that it failed on."""
    kept = []
    for one in fitted:
        name = one.tile.readings.name
        try:
            found = inspections[name].result() if name in inspections else None
            kept.append(replace(one, tile=replace(one.tile, inspected=found)))
        except InputError as error:
            measured.fail(name, error)
    return kept


def _fit_all(tiles: list[Tile], measured: Measured, swatches: Swatches | None) -> list[FittedTile]:
    """Fit together; a tile that cannot be fitted is set aside and the rest go on."""
    while tiles:
        try:
            return fit_tiles(tiles, swatches)
        except FitError as error:
            bad = [t for t in tiles if str(error).startswith(f"{t.readings.name}:")]
            if not bad:
                raise
            measured.fail(bad[0].readings.name, error)
            tiles = [t for t in tiles if t is not bad[0]]
    return []


def report_of(
    command: str,
    paths: Sequence[Path],
    options: CheckOptions,
    measured: Measured,
    *,
    borrowing: bool = False,
    lying: Found | None = None,
) -> JobReport:
    """Put the report together in the order the scans were given.

    With ``borrowing``, scans without a strip took their colour from the others.
    ``lying`` is what is known already of how the tiles lie.
    """
    done = {f.tile.readings.name: f for f in measured.fitted}
    groups = tuple(sorted(dict.fromkeys(f.group for f in measured.fitted), key=len, reverse=True))
    bare = {str(o.scan.path): o.scan for o in measured.stripless} if borrowing else {}
    between = findings_between(measured.fitted, _scans(measured, paths), lying)
    tiles = tuple(
        without_strip_report(bare[str(path)], measured.failures[str(path)])
        if str(path) in bare
        else failed_report(str(path), measured.failures[str(path)], measured.kinds.get(str(path)))
        if str(path) in measured.failures
        else _with_others(
            _with_group(done[str(path)], tile_report(done[str(path)], options.tolerance), groups),
            between.get(str(path), ()),
        )
        for path in paths
    )
    reference, name = _used_reference(measured, options)
    painted = measured.painted
    swatches = (
        None if painted is None else swatch_report(painted, measured.fitted, options.tolerance)
    )
    return JobReport(
        command=command,
        reference=name,
        reference_kind=reference.kind,
        reference_uncertainty=reference.uncertainty,
        reference_facts=dict(reference.facts),
        tolerance=options.tolerance,
        tiles=tiles,
        groups=groups,
        agreement=tiles_agree(measured.fitted) if len(measured.fitted) > 1 else None,
        swatches=swatches,
        assumed=(
            *measured.target.assumed,
            *reference.notes,
            *kind_note(reference, name, options),
            *(paint_notes(swatches) if swatches else ()),
        ),
        history=tuple(measured.history),
        views=Views(tiles=dict(measured.views)),
    )


def _used_reference(measured: Measured, options: CheckOptions) -> tuple[Reference, str]:
    """Give the values the tiles rest on, of several the least trusted, and their name."""
    used = [one for fitted in measured.fitted for one in fitted.tile.references]
    if not used:
        used = list(measured.target.references.values())
    reference = least_trusted(used)
    if options.references is not None:
        files = dict.fromkeys(str(one.path) for one in used if one.path)
    else:
        files = dict.fromkeys(str(path) for path in options.reference_files)
    names = [f.tile.strips[0].layout.name for f in measured.fitted]
    sheet = min(names, default=min(measured.target.layouts))
    return reference, ", ".join(files) or f"nominal values of {sheet}"


def kind_note(reference: Reference, name: str, options: CheckOptions) -> tuple[str, ...]:
    """Say what values mean that nobody measured on this very sheet."""
    if reference.kind == "measured" or (not options.reference_files and options.references is None):
        return ()
    if reference.kind == "carried over":
        known = reference.uncertainty
        size = "not stated" if known is None else f"{known:.2f} ΔE2000 mean"
        return (
            f"the values of {reference.path or name} were carried over by a scanner from a "
            f"measured sheet: good for ink of that sheet's kind; their uncertainty ({size}) comes "
            "on top of every figure on the strip",
        )
    return (
        f"{reference.path or name} holds nominal values: tiles can be made to agree, but "
        "the colour is not true colour until the strip is measured",
    )


def _scans(measured: Measured, paths: Sequence[Path]) -> list[Scan]:
    """All scans that could be read, in the order given."""
    read = {str(f.tile.scan.path): f.tile.scan for f in measured.fitted}
    read |= {str(o.scan.path): o.scan for o in measured.stripless}
    return [read[str(path)] for path in paths if str(path) in read]


def _with_others(report: TileReport, between: Sequence[Finding]) -> TileReport:
    """Add what the comparison with the other scans found, gravest first."""
    if not between:
        return report
    findings = with_proven(report.findings, between)
    return replace(report, findings=findings, advice=advice_of(findings))


def _with_group(
    fitted: FittedTile, report: TileReport, groups: tuple[tuple[str, ...], ...]
) -> TileReport:
    """Name a tile whose tone curve differs from that of the largest group."""
    if fitted.group == groups[0]:
        return report
    findings = (other_settings(), *report.findings)
    return replace(report, findings=findings, advice=advice_of(findings))
