"""Carrying values over: whole scans of the demo's spectral scanner, truth kept."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from colormatch.cli.main import run
from colormatch.errors import InputError, OutputError
from colormatch.files.references import read_reference, reference_text
from colormatch.job.options import TransferOptions
from colormatch.job.transfer import transfer
from demo.inks import Printer
from demo.strip import PrintedStrip, shipped_strip, true_reference
from tests.benchmarks.bench_transfer import KNOWN, OTHER, PLACES, glass, off, scan_pair
from tests.finding import charts
from tests.job.chart_scans import LAYOUT


@dataclass(frozen=True)
class Pairs:
    """Scans of a known sheet and another strip."""

    folder: Path
    scans: list[Path]
    known: PrintedStrip
    other: PrintedStrip

    def values(self, name: str, **changes: object) -> Path:
        path = self.folder / name
        if not path.exists():
            measured = true_reference(self.known, noise=0.15, rng=np.random.default_rng(1))
            text = reference_text(replace(measured, **changes), "strip-long")  # type: ignore[arg-type]
            path.write_text(text, encoding="utf-8")
        return path


@pytest.fixture(scope="module")
def pairs(tmp_path_factory: pytest.TempPathFactory) -> Pairs:
    folder = tmp_path_factory.mktemp("pairs")
    known = shipped_strip("strip-long", ppi=300, serial=KNOWN)
    printer = Printer(strength=(1.1, 0.93, 1.05, 0.97), grey_component=0.6)
    other = shipped_strip("strip-long", ppi=300, drift=2.0, printer=printer, serial=OTHER)
    scans = scan_pair(folder, known, other, glass(200.0), places=PLACES)
    return Pairs(folder=folder, scans=scans, known=known, other=other)


def test_values_are_true_within_what_is_asked_and_stated(pairs: Pairs, tmp_path: Path) -> None:
    out = tmp_path / "strip.txt"
    report = transfer(pairs.scans, TransferOptions(known=(pairs.values("known.txt"),), out=out))
    errors = off(out, pairs.other)
    assert errors.mean() < 1.0  # what is asked for ink of the same kind
    assert errors.mean() < 1.5 * report.uncertainty.mean
    written = read_reference(out)
    assert written.kind == "carried over"
    assert written.serials == (OTHER,)
    assert written.uncertainty == pytest.approx(report.uncertainty.mean, abs=1e-5)
    assert written.sigma is not None
    assert np.mean(errors < 2 * written.sigma) > 0.85
    assert report.scans == 3
    assert report.between_scans is not None
    assert KNOWN in written.facts["source"]


def test_several_readings_of_the_known_sheet_are_averaged(pairs: Pairs, tmp_path: Path) -> None:
    known = []
    for seed in range(3):
        path = pairs.folder / f"reading-{seed}.txt"
        values = true_reference(pairs.known, noise=0.3, rng=np.random.default_rng(seed))
        path.write_text(reference_text(values, "strip-long"), encoding="utf-8")
        known.append(path)
    report = transfer(
        pairs.scans[:1], TransferOptions(known=tuple(known), out=tmp_path / "strip.txt")
    )
    assert any("3 readings each" in line for line in report.assumed)
    assert any("one scan only" in line for line in report.assumed)
    assert off(tmp_path / "strip.txt", pairs.other).mean() < 1.0


def test_a_sheet_without_serial_is_told_by_its_place(pairs: Pairs, tmp_path: Path) -> None:
    nameless = pairs.values("nameless.txt", facts={})
    options = TransferOptions(known=(nameless,), out=tmp_path / "strip.txt")
    with pytest.raises(InputError, match=r"2 strips could be the known sheet .* --known-at"):
        transfer(pairs.scans[:1], options)
    with pytest.raises(InputError, match="no strip lies clearly at the left"):
        transfer(pairs.scans[:1], replace(options, known_at="left"))
    transfer(pairs.scans[:1], replace(options, known_at="top"))
    assert off(options.out, pairs.other).mean() < 1.0


def test_a_wrong_sheet_is_refused(pairs: Pairs, tmp_path: Path) -> None:
    out = tmp_path / "strip.txt"
    stranger = pairs.values("stranger.txt", facts={"serial": "ZZZ-22A"})
    with pytest.raises(InputError, match="holds the values of sheet ZZZ-22A; seen are"):
        transfer(pairs.scans[:1], TransferOptions(known=(stranger,), out=out))
    options = TransferOptions(known=(pairs.values("known.txt"),), out=out, known_at="bottom")
    with pytest.raises(InputError, match="the strip at the bottom is strip-long TRY-33B"):
        transfer(pairs.scans[:1], options)
    xyz = true_reference(pairs.known).xyz[::-1]
    swapped = pairs.values("swapped.txt", xyz=xyz)
    with pytest.raises(InputError, match=r"do not fit the reference|fit the scans only"):
        transfer(pairs.scans[:1], TransferOptions(known=(swapped,), out=out))
    nominal = pairs.values("nominal.txt", kind="nominal")
    with pytest.raises(InputError, match="nominal values, which nobody measured"):
        transfer(pairs.scans[:1], TransferOptions(known=(nominal,), out=out))
    assert not out.exists()


def test_nothing_is_overwritten(pairs: Pairs, tmp_path: Path) -> None:
    known = pairs.values("known.txt")
    before = known.read_text()
    with pytest.raises(OutputError, match="holds the known values"):
        transfer(pairs.scans, TransferOptions(known=(known,), out=known, force=True))
    with pytest.raises(OutputError, match="one of the scans"):
        transfer(pairs.scans, TransferOptions(known=(known,), out=pairs.scans[0], force=True))
    twice = [*pairs.scans, pairs.scans[0]]
    with pytest.raises(InputError, match="is given twice"):
        transfer(twice, TransferOptions(known=(known,), out=tmp_path / "other.txt"))
    taken = tmp_path / "strip.txt"
    taken.write_text("mine")
    with pytest.raises(OutputError, match="exists already"):
        transfer(pairs.scans, TransferOptions(known=(known,), out=taken))
    assert (known.read_text(), taken.read_text()) == (before, "mine")


def test_a_painter_is_told_what_was_done(
    pairs: Pairs, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "strip.txt"
    arguments = ["--known", str(pairs.values("known.txt")), "--out", str(out)]
    assert run(["transfer", str(pairs.scans[0]), str(pairs.scans[1]), *arguments]) == 0
    printed = capsys.readouterr().out
    assert f"values of 65 patches of strip-long, sheet {OTHER}" in printed
    assert "by 2 scans" in printed
    assert "with another kind of ink expect about" in printed
    assert run(["transfer", str(pairs.scans[0]), *arguments[:2], "--out", str(tmp_path)]) != 0


def test_scripts_get_the_same_as_json(
    pairs: Pairs, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "strip.txt"
    arguments = ["--known", str(pairs.values("known.txt")), "--out", str(out), "--json"]
    assert run(["transfer", *map(str, pairs.scans), *arguments]) == 0
    data = json.loads(capsys.readouterr().out)
    schema = files("colormatch.reporting").joinpath("transfer.schema.json").read_text("utf-8")
    jsonschema.validate(data, json.loads(schema))
    assert data["written"] == str(out)
    assert data["scans"] == 3
    stated = read_reference(out).uncertainty
    assert data["uncertainty"]["mean"] == pytest.approx(stated, abs=1e-5)


def test_a_folder_serves_both_strips_and_the_verdict_says_what_it_rests_on(
    pairs: Pairs, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "references"
    folder.mkdir()
    known = folder / "known.txt"
    known.write_text(pairs.values("known.txt").read_text(encoding="utf-8"), encoding="utf-8")
    scan = str(pairs.scans[0])
    # Of the second strip nothing is filed yet.
    assert run(["check", scan, "--references", str(folder)]) == 1
    assert f"the strip is sheet {OTHER}" in capsys.readouterr().out
    transfer(pairs.scans, TransferOptions(known=(known,), out=folder / "other.txt"))
    assert run(["check", scan, "--references", str(folder)]) == 0
    printed = capsys.readouterr().out
    assert f"sheet {KNOWN}" in printed
    assert f"sheet {OTHER}" in printed
    assert "true colour within ± 0." in printed
    assert "of it from its values, carried over from known.txt" in printed
    # One file for both strips is another sheet's for one of them.
    assert run(["check", scan, "--reference", str(known)]) == 1
    assert "--any-sheet takes the values all the same" in capsys.readouterr().out
    assert run(["check", scan, "--reference", str(known), "--any-sheet", "--json"]) != 1
    (tile,) = json.loads(capsys.readouterr().out)["tiles"]
    assert "strip-other-sheet" in {finding["kind"] for finding in tile["findings"]}
    assert run(["check", scan, "--references", str(folder), "--reference", str(known)]) == 1
    assert "not both" in capsys.readouterr().err


def test_a_chart_without_marks_serves_as_known_sheet(pairs: Pairs, tmp_path: Path) -> None:
    chart = charts.printed_chart(charts.chart_layout(ground="white"), np.random.default_rng(8))
    layout, known = tmp_path / "chart.toml", tmp_path / "chart.txt"
    layout.write_text(LAYOUT, encoding="utf-8")
    known.write_text(reference_text(chart.reference, "plain"), encoding="utf-8")
    scanner = replace(glass(200.0), glass=(190.0, 76.0))
    sheet = charts.printed_sheet(chart, 300.0)
    places = (((95.0, 22.0), 0), ((92.0, 54.0), 2))
    scans = scan_pair(tmp_path, sheet, pairs.other, scanner, places=places)
    options = TransferOptions(known=(known,), layout=layout, out=tmp_path / "strip.txt")
    report = transfer(scans, options)
    errors = off(options.out, pairs.other)
    assert errors.mean() < 1.0
    assert errors.mean() < 1.5 * report.uncertainty.mean
    with pytest.raises(InputError) as caught:
        transfer(pairs.scans[:1], replace(options, out=tmp_path / "none.txt"))
    assert str(caught.value).startswith(f"{pairs.scans[0]}: ")
    assert "plain" in str(caught.value)
