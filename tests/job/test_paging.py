"""The report's files: asked for, refused, replaced."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from colormatch.errors import OutputError
from colormatch.job.options import CheckOptions
from colormatch.job.paging import leave_report, refuse_report
from tests.reporting.records import report


def test_nothing_is_written_unasked(tmp_path: Path) -> None:
    leave_report(report(), CheckOptions())
    assert list(tmp_path.iterdir()) == []


def test_a_page_and_its_json_are_left_in_a_new_folder(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "report"
    leave_report(report(), CheckOptions(report=folder))
    assert {path.name for path in folder.iterdir()} == {"report.html", "report.json"}
    assert json.loads((folder / "report.json").read_text(encoding="utf-8"))["schema"] == 1


@pytest.mark.parametrize("name", ["report.html", "report.json"])
def test_a_report_is_replaced_only_when_forced(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("old")
    with pytest.raises(OutputError, match="exists already"):
        refuse_report(CheckOptions(report=tmp_path))
    assert [path.name for path in tmp_path.iterdir()] == [name]
    forced = CheckOptions(report=tmp_path, force=True)
    refuse_report(forced)
    leave_report(report(), forced)
    assert (tmp_path / name).read_text(encoding="utf-8") != "old"
