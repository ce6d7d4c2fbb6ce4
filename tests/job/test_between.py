"""What check finds by comparing scans, in rendered jobs with one known fault."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from colormatch.job.checking import check
from colormatch.job.options import CheckOptions
from colormatch.verdict import Advice, Finding, JobReport, Kind
from demo.jobs import render, sound_job
from demo.known_faults import FAULTS, faulty_job

BY_NAME = {fault.name: fault for fault in FAULTS}
PPI = 100.0


def checked(name: str, strength: str, folder: Path, seed: int = 0) -> JobReport:
    files = render(faulty_job(BY_NAME[name], strength, seed=seed, ppi=PPI), folder)
    return check(files.scans, CheckOptions(reference=files.reference))


def found(report: JobReport, kind: Kind) -> list[Finding]:
    return [f for tile in report.tiles for f in tile.findings if f.kind is kind]


def test_a_turned_tile_is_told_and_the_other_is_not(tmp_path: Path) -> None:
    report = checked("turned tile", "plain", tmp_path)
    assert not any(f.kind is Kind.TURNED for f in report.tiles[0].findings)
    (finding,) = found(report, Kind.TURNED)
    assert finding.advice is Advice.CARE
    assert report.tiles[1].advice is not Advice.USE
    assert "the same way up" in finding.next_step


def test_a_narrow_overlap_is_told_with_its_width_and_place(tmp_path: Path) -> None:
    report = checked("little overlap", "strong", tmp_path)
    (finding,) = found(report, Kind.LITTLE_OVERLAP)
    assert finding.advice is Advice.RESCAN
    # 8 mm by the job's own geometry, less the rim of the painting's mask.
    assert finding.measure == pytest.approx(8, abs=2)
    (x, _, width, height) = finding.places[0]
    assert x < 2
    assert width == pytest.approx(8, abs=2)
    assert height > 100
    assert "tile-1" in finding.text


def test_a_step_of_exposure_is_told_with_its_size(tmp_path: Path) -> None:
    report = checked("exposure of one tile", "strong", tmp_path)
    (finding,) = found(report, Kind.OTHER_EXPOSURE)
    # Half a stop and up to 3 % more, up to 1.5 % in a channel.
    assert finding.measure is not None
    assert 27 < finding.measure < 34
    assert "darker than tile-1.tif" in finding.text
    assert finding.advice is Advice.CARE


def test_an_exposure_that_splits_the_tone_curves_is_told_too(tmp_path: Path) -> None:
    # Dark painting, dark lid, half a stop: the curves are then fitted one by one.
    report = checked("exposure of one tile", "strong", tmp_path, seed=1)
    (finding,) = found(report, Kind.OTHER_EXPOSURE)
    assert finding.measure is not None
    assert 27 < finding.measure < 34


def test_a_lamp_warming_up_is_told_of_the_first_scan(tmp_path: Path) -> None:
    report = checked("warm-up", "strong", tmp_path)
    assert any(f.kind is Kind.WARM_UP for f in report.tiles[0].findings)
    assert not any(f.kind is Kind.WARM_UP for f in report.tiles[2].findings)
    assert found(report, Kind.OTHER_EXPOSURE) == []


def test_a_file_of_lower_resolution_is_told(tmp_path: Path) -> None:
    report = checked("mixed files", "strong", tmp_path)
    (finding,) = found(report, Kind.OTHER_SETTINGS)
    assert "67 ppi where the others have 100" in finding.text
    assert finding.advice is Advice.CARE


def test_sound_tiles_are_called_use_it(tmp_path: Path) -> None:
    files = render(sound_job("coast", seed=7, tiles=3, ppi=PPI), tmp_path)
    report = check(files.scans, CheckOptions(reference=files.reference))
    assert [tile.advice for tile in report.tiles] == [Advice.USE] * 3


def test_tiles_that_share_no_painting_neither_fail_nor_take_long(tmp_path: Path) -> None:
    scans: list[Path] = []
    for number, painting in enumerate(("coast", "abstract", "coast")):
        folder = tmp_path / str(number)
        folder.mkdir()
        job = sound_job(painting, seed=number, tiles=1, ppi=60)
        files = render(job, folder)
        scans += files.scans
    started = time.process_time()
    report = check(scans, CheckOptions(reference=files.reference))
    assert time.process_time() - started < 6
    for kind in (Kind.TURNED, Kind.LITTLE_OVERLAP, Kind.EDGE_SHADOW, Kind.OFF_GLASS):
        assert found(report, kind) == []
    assert all(tile.error is None for tile in report.tiles)
