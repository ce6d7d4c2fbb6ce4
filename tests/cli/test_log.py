"""``--log`` from the outside."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from colormatch.cli.main import run
from colormatch.cli.status import Status
from colormatch.colour.spaces import lab_from_xyz
from colormatch.files.log import read_log
from demo.run import DemoFiles

Capture = pytest.CaptureFixture[str]


def test_every_scan_leaves_a_row_with_its_figures(
    two_tiles: DemoFiles, tmp_path: Path, capsys: Capture
) -> None:
    log, broken = tmp_path / "studio.log", tmp_path / "broken.tif"
    broken.write_bytes(b"no picture")
    names = [*map(str, two_tiles.scans), str(broken)]
    command = ["check", *names, "--reference", str(two_tiles.reference), "--json"]
    run([*command, "--log", str(log), "--scanner", "Bench", "--strip", "first print"])
    report = json.loads(capsys.readouterr().out)
    rows = read_log(log)
    assert [row.scan for row in rows] == ["tile-1.tif", "tile-2.tif", "broken.tif"]
    assert {row.scanner for row in rows} == {"Bench"}
    assert {row.strip for row in rows} == {"first print"}
    assert len({row.job for row in rows}) == 1
    assert rows[2].error
    assert rows[2].advice == "scan again"
    for row, tile in zip(rows[:2], report["tiles"], strict=False):
        assert row.advice == tile["advice"]
        assert row.left_out is not None
        assert row.left_out[0] == pytest.approx(tile["colour"]["left_out"]["mean"])
        assert row.findings == tuple(one["kind"] for one in tile["findings"])
        assert len(row.patches) == len(tile["patches"])
        assert row.reference == two_tiles.reference.name
        assert row.time.endswith("Z")


def test_what_is_logged_of_a_patch_is_one_reading_in_four_forms(
    two_tiles: DemoFiles, tmp_path: Path
) -> None:
    log = tmp_path / "studio.log"
    command = ["check", str(two_tiles.scans[0]), "--reference", str(two_tiles.reference)]
    run([*command, "--log", str(log)])
    row = read_log(log)[0]
    assert row.matrix is not None
    assert row.gains is not None
    assert row.white is not None
    used = [p for p in row.patches if p.light is not None]
    assert len(used) > 50
    light = np.array([p.light for p in used])
    xyz = light / np.array(row.gains) @ np.array(row.matrix).T
    np.testing.assert_allclose(
        lab_from_xyz(np.maximum(xyz, 0.0)), np.array([p.scanned for p in used]), atol=0.02
    )
    # The demo's scanner reads the perfect diffuser at 0.88 times its gains of light;
    # scattered light and the fall-off along the strip blur that a little.
    assert np.array(row.white) == pytest.approx(np.full(3, 0.88), rel=0.12)


def test_match_logs_too(two_tiles: DemoFiles, tmp_path: Path) -> None:
    log = tmp_path / "studio.log"
    command = ["match", str(two_tiles.scans[0]), "--reference", str(two_tiles.reference)]
    run([*command, "--out", str(tmp_path / "out"), "--bits", "8", "--log", str(log)])
    assert [row.command for row in read_log(log)] == ["match"]


def test_a_log_that_cannot_be_written_ends_with_1_and_the_verdict_is_printed(
    scan: Path, tmp_path: Path, capsys: Capture
) -> None:
    (tmp_path / "file").write_text("in the way")
    status = run(["check", str(scan), "--log", str(tmp_path / "file" / "studio.log")])
    out, err = capsys.readouterr()
    assert status == Status.FAILED
    assert int(status) == 1
    assert scan.name in out
    assert err.count("\n") == 1
    assert "log" in err


def test_a_file_that_is_no_log_is_refused_before_any_work(
    scan: Path, tmp_path: Path, capsys: Capture
) -> None:
    notes = tmp_path / "notes.txt"
    notes.write_text("mine" * 50)
    assert run(["check", str(scan), "--log", str(notes)]) in (1, 2)
    out, err = capsys.readouterr()
    assert out == ""
    assert "no log of colormatch" in err
    assert notes.read_text() == "mine" * 50
    assert run(["check", str(scan), "--log", str(scan)]) in (1, 2)
    assert "one of the scans" in capsys.readouterr().err


def test_names_without_a_log_mean_nothing(scan: Path, capsys: Capture) -> None:
    assert run(["check", str(scan), "--scanner", "Bench"]) == 2
    assert "--log" in capsys.readouterr().err
