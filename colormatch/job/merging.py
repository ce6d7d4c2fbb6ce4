"""Merge: one picture from many tiles."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from colormatch.colour.encoding import Encoder
from colormatch.colour.spaces import RGBSpace, rgb_space
from colormatch.files.metadata import PictureFacts
from colormatch.files.profiles import space_profile
from colormatch.files.regions import read_regions
from colormatch.files.writing import write_picture
from colormatch.job.checking import Measured, measure, report_of
from colormatch.job.folders import make_folder, refuse_existing, refuse_scans
from colormatch.job.matching import GamutCounter
from colormatch.job.merge_extras import (
    SHADES,
    draw_maps,
    extra_paths,
    write_maps,
    write_tiles,
)
from colormatch.job.merge_findings import placed_findings, with_merge_findings
from colormatch.job.merge_light import Levelled, level, read_blank
from colormatch.job.merge_report import merge_report
from colormatch.job.merge_seams import Joined, join, render_tiles
from colormatch.job.merge_tiles import MergeTile, merge_tiles, placing_tile, unique_names
from colormatch.job.merge_views import Maps, merge_view
from colormatch.job.options import MergeOptions
from colormatch.job.paging import leave_report, refuse_report
from colormatch.job.seam_pieces import SeamPiece, crop_views, kept_passing, seam_pieces
from colormatch.job.tiles import look_at, stated_or_measured_ppi
from colormatch.joining.blocks import Picture
from colormatch.joining.rendering import Renderer
from colormatch.joining.sources import RenderTile
from colormatch.joining.wrapping import wrap_pixels, wrapped
from colormatch.levelling.blank import BlankMap
from colormatch.model import Progress, silent
from colormatch.placing.ordering import Order
from colormatch.placing.place import place
from colormatch.placing.records import Placement
from colormatch.placing.trimming import trimmed
from colormatch.verdict import JobReport

SQUARE = 0.02
"""Degrees of turn below which the picture is not turned: under half a pixel at its rim."""


def merge(
    paths: Sequence[Path], options: MergeOptions, *, progress: Progress = silent
) -> JobReport:
    """Check, match, level, place, join, trim and write.

    Parameters
    ----------
    paths : sequence of Path
        Scan files in any order.
    options : MergeOptions
        Where to and how.
    progress : callable, optional
        Told the task and the share done.

    Returns
    -------
    JobReport
        With ``merged`` filled in; scans that cannot be read carry their error,
        and then nothing is written.

    Raises
    ------
    InputError
        If the tiles cannot be put together, or a file given cannot be used.
    OutputError
        If the result cannot be written or exists already.
    """
    _refuse(paths, options)
    with ExitStack() as stack:
        measured = measure(paths, options, stack, progress, scratch=scratch(options))
        unreadable = set(measured.failures) - {str(o.scan.path) for o in measured.stripless}
        if unreadable:
            return leave_report(report_of("merge", paths, options, measured), options)
        plan = plan_merge(paths, options, measured, stack, progress)
        pieces = pieces_of(plan, options)
        renderer = write_merged(plan, options, progress, pieces)
        write_tiles(plan.tiles, plan.levelled, options, progress)
        maps = draw_maps(plan.tiles, plan.placement, plan.levelled, plan.joined, options)
        write_maps(maps, options)
        report = _report(paths, options, measured, plan, renderer)
        return leave_report(with_views(report, maps, plan, pieces, options), options)


@dataclass(frozen=True, kw_only=True, eq=False)
class MergePlan:
    """All that is decided before the first row is rendered."""

    tiles: tuple[MergeTile, ...]
    placement: Placement
    levelled: Levelled
    rendered: tuple[RenderTile, ...]
    joined: Joined

    @property
    def picture(self) -> Picture:
        """What is to be rendered."""
        return Picture(
            width=self.placement.width,
            height=self.placement.height,
            tiles=self.rendered,
            labels=self.joined.seams.labels,
            blendable=self.joined.seams.blendable,
        )


def plan_merge(
    paths: Sequence[Path],
    options: MergeOptions,
    measured: Measured,
    stack: ExitStack,
    progress: Progress,
) -> MergePlan:
    """Place, level and decide on seams; nothing is written."""
    space = rgb_space(options.space)
    tiles = merge_tiles(paths, measured, space)
    placement = placed(tiles, measured, options, progress)
    blank = blank_sheet(measured, options, space, stack, progress)
    levelled = level(tiles, placement, space, blank)
    rendered = render_tiles(tiles, placement, levelled)
    regions = read_regions(options.keep, unique_names(paths)) if options.keep else None
    joined = join(tiles, rendered, placement, levelled, space, regions, progress)
    return MergePlan(
        tiles=tiles, placement=placement, levelled=levelled, rendered=rendered, joined=joined
    )


def _refuse(paths: Sequence[Path], options: MergeOptions) -> None:
    """Refuse before any work is done."""
    results = [options.out, *extra_paths(paths, options)]
    refuse_scans(results, paths)
    refuse_existing(results, force=options.force)
    refuse_report(options)


def scratch(options: MergeOptions) -> Path:
    """Choose where temporary files go: beside the result, or where that will be.

    Not the system's own temporary folder, because that may be memory.
    """
    wanted = options.out.absolute().parent
    return next(folder for folder in (wanted, *wanted.parents) if folder.is_dir())


def placed(
    tiles: Sequence[MergeTile], measured: Measured, options: MergeOptions, progress: Progress
) -> Placement:
    """Place all tiles, set the picture upright and cut it square."""
    solution = measured.fitted[0].choice.solution
    given = tuple(
        placing_tile(tile, tile.fitted.choice.solution if tile.fitted else solution)
        for tile in tiles
    )
    order = Order(columns=options.order[0], rows=options.order[1]) if options.order else None
    placement = place(given, order=order, progress=progress)
    trim = trimmed(given, placement)
    angle = trim.angle if abs(trim.angle) > SQUARE else 0.0
    left, top, right, bottom = trim.box
    # Whole pixels, so that tiles that need no resampling are not resampled.
    box = (round(left + 0.5) - 0.5, round(top + 0.5) - 0.5, right, bottom)
    return placement.with_canvas(angle, box)


def blank_sheet(
    measured: Measured,
    options: MergeOptions,
    space: RGBSpace,
    stack: ExitStack,
    progress: Progress,
) -> BlankMap | None:
    """Read the blank-sheet scan if one was given."""
    if options.blank is None:
        return None
    opened = look_at(options.blank, progress, scratch(options))
    stack.callback(opened.scan.close)
    lender = measured.fitted[0]
    # Same settings, same resolution as the tiles, where the file does not say.
    lent = stated_or_measured_ppi(lender.tile.scan, lender.tile.strips[0])
    ppi = float(np.mean(opened.scan.ppi or lent))
    return read_blank(opened, lender, ppi, space)


def write_merged(
    plan: MergePlan,
    options: MergeOptions,
    progress: Progress,
    pieces: Sequence[SeamPiece] = (),
) -> Renderer:
    """Stream the joined picture into its file; keep of it what the pieces show."""
    space, placement = rgb_space(options.space), plan.placement
    margin = wrap_pixels(
        options.wrap, placement.ppi, width=placement.width, height=placement.height
    )
    make_folder(options.out.parent)
    renderer = Renderer(picture=plan.picture, progress=progress)
    counter = GamutCounter(space)
    rows = renderer.encoded(Encoder(space, options.depth), outside=counter.count)
    blocks = kept_passing(rows, pieces)
    write_picture(
        options.out,
        wrapped(blocks, margin, height=placement.height),
        width=placement.width + 2 * margin,
        height=placement.height + 2 * margin,
        bits=options.depth,
        format=options.format,
        profile=space_profile(space, options.icc_version),
        ppi=(placement.ppi, placement.ppi),
        facts=PictureFacts(
            title=options.title, creator=options.creator, copyright=options.copyright
        ),
        compression=options.compression,
        force=options.force,
    )
    return renderer


def pieces_of(plan: MergePlan, options: MergeOptions) -> tuple[SeamPiece, ...]:
    """Take pieces across the seams, if a page will show them."""
    if options.report is None:
        return ()
    paths = plan.joined.seams.paths
    return seam_pieces(plan.picture, paths, rgb_space(options.space), options.depth)


def with_views(
    report: JobReport,
    maps: Maps | None,
    plan: MergePlan,
    pieces: Sequence[SeamPiece],
    options: MergeOptions,
) -> JobReport:
    """Add what a page draws of the joined picture, if there will be one."""
    if maps is None or options.report is None:
        return report
    placement, joined = plan.placement, plan.joined
    crops = crop_views(pieces, joined, placement.names, rgb_space(options.space))
    view = merge_view(maps, placement, plan.levelled, joined, crops, SHADES)
    return replace(report, views=replace(report.views, merged=view))


def _report(
    paths: Sequence[Path],
    options: MergeOptions,
    measured: Measured,
    plan: MergePlan,
    renderer: Renderer,
) -> JobReport:
    lying = placed_findings(plan.tiles, plan.placement, measured.fitted[0].choice.solution)
    report = report_of("merge", paths, options, measured, borrowing=True, lying=lying)
    report = with_merge_findings(report, plan.tiles, plan.placement, plan.joined)
    merged = merge_report(options, plan.placement, plan.levelled, plan.joined, renderer)
    slow = _unpacking_note(plan.tiles, scratch(options))
    merged = replace(merged, remarks=(*merged.remarks, *slow))
    history = (
        *report.history,
        f"placed {len(paths)} tiles, levelled their light, joined them",
        f"wrote {options.out}",
    )
    return replace(report, merged=merged, history=history)


def _unpacking_note(tiles: Sequence[MergeTile], folder: Path) -> tuple[str, ...]:
    """Say which scans were decoded again and again, as they could not be unpacked."""
    slow = [tile.name for tile in tiles if not tile.scan.direct]
    if not slow:
        return ()
    return (
        f"there was no room in {folder} to unpack {' and '.join(slow)}, or no leave to write "
        "there, so merging took longer; the picture is the same",
    )
