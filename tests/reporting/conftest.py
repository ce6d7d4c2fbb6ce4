"""Reports of real jobs on the demo's scans, with the pages they left."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from colormatch.job.checking import check
from colormatch.job.matching import match
from colormatch.job.merging import merge
from colormatch.job.options import CheckOptions, MatchOptions, MergeOptions
from colormatch.verdict import JobReport
from demo.run import DemoFiles


@dataclass(frozen=True, kw_only=True, eq=False)
class Left:
    """A job's report and the folder of its page."""

    report: JobReport
    folder: Path

    @property
    def page(self) -> str:
        return (self.folder / "report.html").read_text(encoding="utf-8")

    @property
    def json(self) -> str:
        return (self.folder / "report.json").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def jobs(two_tiles: DemoFiles, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Left]:
    root = tmp_path_factory.mktemp("jobs")
    # A name that is markup, and a file that is no picture.
    odd, broken = root / "<b>.tif", root / "broken.tif"
    odd.write_bytes(two_tiles.scans[0].read_bytes())
    broken.write_bytes(b"no picture")
    strip = two_tiles.reference
    folders = {name: root / name for name in ("check", "match", "merge")}
    checking = CheckOptions(reference=strip, tolerance="fadgi-2016", report=folders["check"])
    matching = MatchOptions(reference=strip, out=root, bits=8, report=folders["match"])
    merging = MergeOptions(
        reference=strip, out=root / "painting.tif", bits=8, report=folders["merge"]
    )
    reports = {
        "check": check([odd, broken], checking),
        "match": match(two_tiles.scans, matching),
        "merge": merge(two_tiles.scans, merging),
    }
    return {name: Left(report=reports[name], folder=folders[name]) for name in folders}
