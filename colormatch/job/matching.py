"""Match: every tile written in one colour, same pixels."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.encoding import Encoder
from colormatch.colour.gamut import clip_to_gamut, out_of_gamut
from colormatch.colour.spaces import RGBSpace, rgb_space
from colormatch.errors import OutputError
from colormatch.files.metadata import PictureFacts
from colormatch.files.profiles import scanner_profile, space_profile
from colormatch.files.whole import written_whole
from colormatch.files.writing import write_picture
from colormatch.fitting.applying import Correction, correction
from colormatch.fitting.judging import difference
from colormatch.job.checking import measure, report_of
from colormatch.job.fit import FittedTile
from colormatch.job.folders import make_folder, refuse_existing, refuse_scans
from colormatch.job.options import MatchOptions
from colormatch.job.paging import leave_report, refuse_report
from colormatch.job.tiles import stated_or_measured_ppi
from colormatch.merged import GamutReport
from colormatch.model import Progress, Scan, Window, silent
from colormatch.verdict import JobReport, TileReport

ROWS = 64
"""Rows per block: a block of an A4 scan at 600 ppi stays in the processor's cache."""
OUTSIDE = 0.002
"""Linear light by which a colour may leave the space before it is counted.

A fifth of a percent of white: less is the noise of a good scanner.
"""
SUFFIXES = {"tiff": ".tif", "png": ".png", "jpeg": ".jpg"}


def match(
    paths: Sequence[Path], options: MatchOptions, *, progress: Progress = silent
) -> JobReport:
    """Write every scan in one true colour.

    Nothing is written unless every scan can be processed: tiles are matched
    together or not at all.

    Parameters
    ----------
    paths : sequence of Path
        Scan files.
    options : MatchOptions
        Where to and in which form.
    progress : callable, optional
        Told the task and the share done.

    Raises
    ------
    InputError
        If the reference or the layout cannot be used.
    OutputError
        If a result cannot be written or exists already.
    """
    targets = output_paths(paths, options)
    refuse_report(options)
    with ExitStack() as stack:
        measured = measure(paths, options, stack, progress)
        report = report_of("match", paths, options, measured)
        if report.failed:
            return leave_report(report, options)
        make_folder(options.out)
        written = []
        for number, (fitted, out) in enumerate(zip(measured.fitted, targets, strict=True)):

            def told(label: str, done: float, number: int = number) -> None:
                progress(label, (number + done) / len(targets))

            gamut = write_tile(fitted, out, options, told)
            written.append((gamut, out))
    tiles = tuple(
        _written(tile, gamut, out) for tile, (gamut, out) in zip(report.tiles, written, strict=True)
    )
    history = (*report.history, f"wrote {len(tiles)} matched tiles to {options.out}")
    return leave_report(replace(report, tiles=tiles, history=history), options)


def _written(tile: TileReport, gamut: GamutReport, out: Path) -> TileReport:
    return replace(tile, gamut=gamut, written=str(out))


def output_paths(paths: Sequence[Path], options: MatchOptions) -> list[Path]:
    """Name every result, refusing clashes before any work is done."""
    results = [options.out / f"{path.stem}{SUFFIXES[options.format]}" for path in paths]
    refuse_scans(results, paths)
    for path, result in zip(paths, results, strict=True):
        if results.count(result) > 1:
            raise OutputError(
                f"several scans are called {path.stem!r}: their matched tiles would overwrite "
                "one another; rename a scan or match them into different folders"
            )
    profiles = [r.with_suffix(".icc") for r in results] if options.scanner_profiles else []
    refuse_existing([*results, *profiles], force=options.force)
    return results


def write_tile(
    fitted: FittedTile, out: Path, options: MatchOptions, progress: Progress
) -> GamutReport:
    """Correct one tile block by block into its file."""
    space, scan = rgb_space(options.space), fitted.tile.scan
    corrected = prepared(fitted, space).widened(scan.width)
    encoder = Encoder(space, options.depth)
    counter = GamutCounter(space)
    write_picture(
        out,
        blocks(scan, corrected, encoder, counter),
        width=scan.width,
        height=scan.height,
        bits=options.depth,
        format=options.format,
        profile=space_profile(space, options.icc_version),
        ppi=stated_or_measured_ppi(scan, fitted.tile.strips[0]),
        facts=PictureFacts(
            title=options.title, creator=options.creator, copyright=options.copyright
        ),
        compression=options.compression,
        force=options.force,
        progress=progress,
    )
    if options.scanner_profiles:
        write_scanner_profile(fitted, out.with_suffix(".icc"), options)
    return GamutReport(
        space=space.title,
        share=counter.outside / (scan.width * scan.height),
        largest=largest_loss(fitted, space),
    )


def prepared(fitted: FittedTile, space: RGBSpace) -> Correction:
    """Set up the correction of one tile for an output space."""
    around = fitted.tile.surroundings
    return correction(
        fitted.choice.solution,
        fitted.index,
        around,
        fitted.tile.along_from_px,
        bits=fitted.tile.scan.bits,
        rgb_from_xyz=space.rgb_from_xyz,
        colour_map=fitted.colour_map,
    )


class GamutCounter:
    """Counts pixels that leave the output space; one per picture."""

    def __init__(self, space: RGBSpace) -> None:
        self.space = space
        self.outside = 0

    def count(self, light: NDArray[np.float32]) -> int:
        """Pixels of a block whose colour the space cannot hold."""
        # Most blocks hold no such colour, and two extremes tell that quickest.
        if light.min() >= -OUTSIDE and light.max() <= 1 + OUTSIDE:
            return 0
        return int(np.count_nonzero(out_of_gamut(light, OUTSIDE)))


class Corrected(Protocol):
    """Turns encoded full-width rows into linear light."""

    def apply(
        self, block: NDArray[np.uint8] | NDArray[np.uint16], first_row: int
    ) -> NDArray[np.float32]:
        """Correct rows of which the first is ``first_row`` of the scan."""


def blocks(
    scan: Scan, corrected: Corrected, encoder: Encoder, counter: GamutCounter
) -> Iterator[NDArray[np.uint8] | NDArray[np.uint16]]:
    """Corrected blocks of rows in order, two of them in the making at a time."""

    def made(row: int) -> tuple[NDArray[np.uint8] | NDArray[np.uint16], int]:
        height = min(ROWS, scan.height - row)
        raw = scan.read(Window(row=row, column=0, height=height, width=scan.width))
        light = corrected.apply(raw, row)
        outside = counter.count(light)
        return encoder.encode(clip_to_gamut(light, out=light)), outside

    pending: deque[Future[tuple[NDArray[np.uint8] | NDArray[np.uint16], int]]] = deque()
    with ThreadPoolExecutor(2) as pool:
        for row in range(0, scan.height, ROWS):
            pending.append(pool.submit(made, row))
            if len(pending) > 3:
                yield _finished(pending.popleft(), counter)
        while pending:
            yield _finished(pending.popleft(), counter)


def _finished(
    work: Future[tuple[NDArray[np.uint8] | NDArray[np.uint16], int]], counter: GamutCounter
) -> NDArray[np.uint8] | NDArray[np.uint16]:
    block, outside = work.result()
    counter.outside += outside
    return block


def largest_loss(fitted: FittedTile, space: RGBSpace) -> float:
    """Largest CIEDE2000 that clipping costs, on the small picture of the tile."""
    around = fitted.tile.surroundings
    solution = fitted.choice.solution
    maps = around.maps(solution.curve.linear)
    places = np.moveaxis(maps, 0, 2).reshape(-1, len(maps), 3)
    light = solution.light(fitted.index, around.picture.reshape(-1, 3), places)
    xyz = fitted.colour_map.xyz(light)
    rgb = xyz @ space.rgb_from_xyz.T
    lost = out_of_gamut(rgb, OUTSIDE)
    if not lost.any():
        return 0.0
    kept = clip_to_gamut(rgb[lost]) @ space.xyz_from_rgb.T
    return float(difference(xyz[lost], np.maximum(kept, 0.0)).max())


def profile_remark(fitted: FittedTile) -> str:
    """Say in a profile's name what of a richer map it cannot hold."""
    return "" if fitted.colour_map.squares is None else " (3x3 only, without root-polynomial)"


def write_scanner_profile(fitted: FittedTile, path: Path, options: MatchOptions) -> None:
    """Write the tile's input profile for use in other programs."""
    solution = fitted.choice.solution
    levels = np.linspace(0.0, 1.0, 1024)[:, None].repeat(3, axis=1)
    curves = (solution.curve.linear(levels) - solution.offset) / solution.gains[fitted.index]
    # A profile's curves end at 1: the scale moves into the matrix.
    top = curves[-1]
    data = scanner_profile(
        np.clip(curves / top, 0.0, 1.0).T,
        fitted.colour_map.matrix * top,
        f"colormatch {fitted.tile.scan.path.stem}{profile_remark(fitted)}",
        version=options.icc_version,
    )
    with written_whole(path, force=options.force) as temporary:
        temporary.write_bytes(data)
