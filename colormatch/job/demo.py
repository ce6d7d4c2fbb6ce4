"""The whole job on an invented painting, as a user would do it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from colormatch.files.whole import written_whole
from colormatch.job.folders import make_folder, refuse_existing
from colormatch.job.matching import match
from colormatch.job.merging import merge
from colormatch.job.options import CheckOptions, MatchOptions, MergeOptions
from colormatch.job.paging import NAMES, write_report
from colormatch.job.target import write_target
from colormatch.model import Progress
from colormatch.reporting.terminal import text_report
from colormatch.verdict import JobReport


class Drawn(Protocol):
    """What drawing and scanning leaves behind."""

    @property
    def scans(self) -> tuple[Path, ...]:
        """The scan files."""

    @property
    def reference(self) -> Path:
        """Measured values of the printed strip."""

    @property
    def swatches(self) -> Path | None:
        """Scan of the painter's own paints, if asked for."""

    @property
    def swatch_reference(self) -> Path | None:
        """Measured values of those paints."""


class Draw(Protocol):
    """Draws and scans an invented painting into a folder."""

    def __call__(
        self,
        folder: Path,
        *,
        preset: str = ...,
        ppi: float = ...,
        seed: int = ...,
        swatches: str | None = ...,
        force: bool = ...,
        progress: Progress = ...,
    ) -> Drawn:
        """Draw and scan."""


PAGE = "SEA-22"
"""Serial of the page from which the strip in the demo's scans was cut."""


PAINTS = 24
"""Boxes of the demo's sheet for own paints."""


@dataclass(frozen=True, kw_only=True)
class DemoFolders:
    """Where the demo leaves what."""

    strip: Path
    scans: Path
    matched: Path
    painting: Path
    maps: Path
    text: Path

    @classmethod
    def under(cls, folder: Path) -> DemoFolders:
        """Name the places below one folder."""
        return cls(
            strip=folder / "strip",
            scans=folder / "scans",
            matched=folder / "matched",
            painting=folder / "painting.tif",
            maps=folder / "maps",
            text=folder / "report.txt",
        )


def run_demo(
    folder: Path,
    draw: Draw,
    *,
    scene: str,
    ppi: float,
    swatches: bool = False,
    force: bool,
    progress: Progress,
) -> JobReport:
    """Write the strip, draw and scan, match, merge, and leave the report.

    With ``swatches``, also write the sheet for own paints, and scan and use one that
    the invented painter has painted.

    Raises
    ------
    InputError
        If there is no such scene.
    OutputError
        If something is in the way and ``force`` is off.
    """
    places = DemoFolders.under(folder)
    reports = [places.text, *(folder / name for name in NAMES)]
    first = [places.strip / "strip.pdf", places.painting, *reports]
    refuse_existing(first, force=force)
    make_folder(folder)
    boxes, choice = (PAINTS, "own") if swatches else (None, None)
    write_target(places.strip, "long", serial=PAGE, swatches=boxes, force=force)
    drawn = draw(
        places.scans, preset=scene, ppi=ppi, seed=0, swatches=choice, force=force, progress=progress
    )
    given = CheckOptions(
        reference=drawn.reference,
        swatches=drawn.swatches,
        swatch_reference=drawn.swatch_reference,
        force=force,
    )
    matching = MatchOptions(**vars(given), out=places.matched)
    matched = match(drawn.scans, matching, progress=progress)
    whole = replace(given, report=folder)
    merging = MergeOptions(**vars(whole), out=places.painting, maps=places.maps)
    merged = merge(drawn.scans, merging, progress=progress)
    # The tiles as match reports them, with what became of each; the picture beside them.
    report = replace(merged, tiles=matched.tiles, history=(*matched.history, *merged.history))
    with written_whole(places.text, force=force) as temporary:
        temporary.write_text(text_report(report) + "\n", encoding="utf-8")
    # In place of the one that merge has just left.
    write_report(report, folder, force=True)
    return report
