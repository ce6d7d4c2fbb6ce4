"""The whole job on an invented painting, as a user would do it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from colormatch.files.whole import written_whole
from colormatch.job.folders import make_folder, refuse_existing
from colormatch.job.matching import match
from colormatch.job.merging import merge
from colormatch.job.options import MatchOptions, MergeOptions
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


class Draw(Protocol):
    """Draws and scans an invented painting into a folder."""

    def __call__(
        self,
        folder: Path,
        *,
        preset: str = ...,
        ppi: float = ...,
        seed: int = ...,
        force: bool = ...,
        progress: Progress = ...,
    ) -> Drawn:
        """Draw and scan."""


PAGE = "SEA-22"
"""Serial of the page from which the strip in the demo's scans was cut."""


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
    folder: Path, draw: Draw, *, scene: str, ppi: float, force: bool, progress: Progress
) -> JobReport:
    """Write the strip, draw and scan, match, merge, and leave the report.

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
    write_target(places.strip, "long", serial=PAGE, force=force)
    drawn = draw(places.scans, preset=scene, ppi=ppi, seed=0, force=force, progress=progress)
    matching = MatchOptions(reference=drawn.reference, out=places.matched, force=force)
    matched = match(drawn.scans, matching, progress=progress)
    merging = MergeOptions(
        reference=drawn.reference, out=places.painting, maps=places.maps, force=force
    )
    merged = merge(drawn.scans, merging, progress=progress)
    # The tiles as match reports them, with what became of each; the picture beside them.
    report = replace(merged, tiles=matched.tiles, history=(*matched.history, *merged.history))
    with written_whole(places.text, force=force) as temporary:
        temporary.write_text(text_report(report) + "\n", encoding="utf-8")
    write_report(report, folder, force=force)
    return report
