"""``colormatch check`` and the report it leaves."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from colormatch.cli.main import run

Capture = pytest.CaptureFixture[str]


def test_a_report_is_left_and_not_replaced_unasked(
    scan: Path, tmp_path: Path, capsys: Capture
) -> None:
    command = ["check", str(scan), "--report", str(tmp_path / "report"), "--json"]
    assert run(command) in (0, 3)
    left = (tmp_path / "report" / "report.json").read_text(encoding="utf-8")
    assert json.loads(left) == json.loads(capsys.readouterr().out)
    assert run(command) == 1
    assert "exists already" in capsys.readouterr().err
    assert run([*command, "--force"]) in (0, 3)


def test_force_means_nothing_without_a_report(scan: Path, capsys: Capture) -> None:
    assert run(["check", str(scan), "--force"]) == 2
    assert "--report" in capsys.readouterr().err


def test_a_report_that_cannot_be_made_is_one_sentence(
    scan: Path, tmp_path: Path, capsys: Capture
) -> None:
    (tmp_path / "file").write_text("in the way")
    assert run(["check", str(scan), "--report", str(tmp_path / "file" / "report")]) == 1
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "choose another" in said
