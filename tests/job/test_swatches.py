"""Own paints end to end: scans and sheet of the demo, through files, against the truth."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
import tifffile

from colormatch.cli.main import run
from colormatch.errors import InputError, ReferenceFileError, TargetError
from colormatch.fitting.deciding import Model
from colormatch.job.checking import check
from colormatch.job.matching import match
from colormatch.job.merging import merge
from colormatch.job.options import CheckOptions, MatchOptions, MergeOptions
from colormatch.reporting.as_json import json_report
from colormatch.reporting.terminal import text_report
from colormatch.verdict import JobReport
from demo.run import DemoFiles, draw
from tests.benchmarks.bench_colour import against_truth, matched_xyz

PPI = 100.0


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> DemoFiles:
    folder = tmp_path_factory.mktemp("paints")
    return draw(folder, preset="fluorescent", ppi=PPI, seed=1, swatches="own")


def options(drawn: DemoFiles, **changes: Any) -> CheckOptions:
    given = CheckOptions(
        reference=drawn.reference,
        swatches=drawn.swatches,
        swatch_reference=drawn.swatch_reference,
    )
    return replace(given, **changes)


def matched(drawn: DemoFiles, out: Path, *, paints: bool) -> tuple[JobReport, float]:
    """Match both tiles; the report, and the mean ΔE2000 on the painting."""
    own = (drawn.swatches, drawn.swatch_reference) if paints else (None, None)
    asked = MatchOptions(
        reference=drawn.reference,
        out=out,
        space="oprgb",
        swatches=own[0],
        swatch_reference=own[1],
        scanner_profiles=True,
    )
    report = match(drawn.scans, asked)
    errors = [
        against_truth(matched_xyz(Path(tile.written or "")), truth, PPI)
        for tile, truth in zip(report.tiles, drawn.truth, strict=True)
    ]
    return report, float(np.concatenate(errors).mean())


def test_paints_take_at_least_a_third_off_the_error_on_the_painting(
    drawn: DemoFiles, tmp_path: Path
) -> None:
    plain, without = matched(drawn, tmp_path / "without", paints=False)
    report, with_paints = matched(drawn, tmp_path / "with", paints=True)
    assert plain.swatches is None
    assert with_paints < 0.67 * without
    swatches = report.swatches
    assert swatches is not None
    assert swatches.paints >= 20
    assert swatches.tiles == tuple(str(path) for path in drawn.scans)
    assert len(report.tiles) == 2
    # The scans themselves are judged as without paints.
    assert report.tiles[0].colour is not None
    assert plain.tiles[0].colour is not None
    assert report.tiles[0].colour.left_out.mean == pytest.approx(
        plain.tiles[0].colour.left_out.mean, abs=0.2
    )
    # What was promised on paints left out comes true on the painting, within a half.
    assert swatches.chosen.paint_left_out.mean == pytest.approx(with_paints, rel=0.6)


def test_merging_uses_the_paints_as_well(drawn: DemoFiles, tmp_path: Path) -> None:
    errors = []
    for number, own in enumerate(((None, None), (drawn.swatches, drawn.swatch_reference))):
        folder = tmp_path / str(number)
        asked = MergeOptions(
            reference=drawn.reference,
            out=folder / "painting.tif",
            space="oprgb",
            swatches=own[0],
            swatch_reference=own[1],
            tiles_too=folder / "tiles",
        )
        report = merge(drawn.scans, asked)
        assert (report.swatches is None) == (own[0] is None)
        parts = [
            against_truth(matched_xyz(folder / "tiles" / scan.name), truth, PPI)
            for scan, truth in zip(drawn.scans, drawn.truth, strict=True)
        ]
        errors.append(float(np.concatenate(parts).mean()))
    assert errors[1] < 0.67 * errors[0]


def test_the_report_says_which_map_why_and_how_far_off(drawn: DemoFiles) -> None:
    report = check(drawn.scans, options(drawn))
    text = text_report(report)
    assert f"colour by the {report.swatches.model}" in text  # type: ignore[union-attr]
    for words in ("why:", "(in use)", "paints left out of the fit", "inks left out"):
        assert words in text
    assert "on paint expect 1 to 1.5 times" not in text
    data = json.loads(json_report(report))
    schema = files("colormatch.reporting").joinpath("report.schema.json").read_text("utf-8")
    jsonschema.validate(data, json.loads(schema))
    chosen = data["swatches"]
    assert {one["model"] for one in chosen["maps"]} == {model.value for model in Model}
    assert np.shape(chosen["matrix"]) == (3, 3)
    assert len(chosen["terms"]) in (0, 6)
    assert np.shape(report.tiles[0].colour.matrix) == (3, 3)  # type: ignore[union-attr]


def test_boxes_without_values_or_with_wrong_ones_take_no_part(
    drawn: DemoFiles, tmp_path: Path
) -> None:
    assert drawn.swatch_reference is not None
    lines = drawn.swatch_reference.read_text().splitlines()
    lines[3] = "P3,not painted,,,"
    lines[5] = "P5,measured elsewhere,90,-60,70"
    table = tmp_path / "paints.csv"
    table.write_text("\n".join(lines))
    swatches = check(drawn.scans, options(drawn, swatch_reference=table)).swatches
    assert swatches is not None
    left_out = " ".join(swatches.left_out)
    assert "P3: no values were given" in left_out
    named = left_out + " ".join(swatches.doubts)
    assert "P5" in named
    assert "P3" not in {paint.id for paint in swatches.patches}


def test_a_sheet_scanned_with_another_curve_takes_no_part(drawn: DemoFiles, tmp_path: Path) -> None:
    assert drawn.swatches is not None
    codes = tifffile.imread(drawn.swatches) / 65535
    other = tmp_path / "other.tif"
    tifffile.imwrite(
        other,
        np.round(codes**0.7 * 65535).astype(np.uint16),
        photometric="rgb",
        resolution=(PPI, PPI),
        resolutionunit="INCH",
    )
    report = check(drawn.scans, options(drawn, swatches=other))
    swatches = report.swatches
    assert swatches is not None
    assert swatches.tiles == ()
    assert "no tile was scanned with the same settings" in text_report(report)
    plain = check(drawn.scans, CheckOptions(reference=drawn.reference))
    assert report.tiles[0].colour == plain.tiles[0].colour


@pytest.mark.parametrize(
    ("changes", "error", "words"),
    [
        ({"swatch_reference": None}, InputError, "--swatch-reference FILE"),
        ({"swatches": None}, InputError, "with --swatches"),
        ({"reference": None}, InputError, "have the strip measured too"),
        ({"swatch_reference": "strip"}, ReferenceFileError, "paints help from 6 on"),
        ({"swatches": "tile"}, TargetError, "the sheet of paints is not found"),
        ({"swatches": "missing"}, InputError, "missing.tif"),
    ],
)
def test_what_cannot_work_is_said_with_what_to_do(
    drawn: DemoFiles, changes: dict[str, str | None], error: type[Exception], words: str
) -> None:
    stand_in = {
        "strip": drawn.reference,
        "tile": drawn.scans[0],
        "missing": drawn.story.with_name("missing.tif"),
    }
    given = {key: None if value is None else stand_in[value] for key, value in changes.items()}
    with pytest.raises(error, match=words):
        check(drawn.scans, options(drawn, **given))


def test_a_sheet_scanned_sideways_is_read_as_well(drawn: DemoFiles, tmp_path: Path) -> None:
    assert drawn.swatches is not None
    turned = tmp_path / "turned.tif"
    codes = np.ascontiguousarray(np.rot90(tifffile.imread(drawn.swatches)))
    tifffile.imwrite(turned, codes, photometric="rgb", resolution=(PPI, PPI), resolutionunit="INCH")
    upright, sideways = (
        check(drawn.scans[:1], options(drawn, swatches=path)).swatches
        for path in (drawn.swatches, turned)
    )
    assert upright is not None
    assert sideways is not None
    assert sideways.paints == upright.paints
    assert sideways.chosen.paint_left_out.mean == pytest.approx(
        upright.chosen.paint_left_out.mean, rel=0.1
    )


def test_a_sheet_without_a_strip_beside_it_is_refused(drawn: DemoFiles, tmp_path: Path) -> None:
    assert drawn.swatches is not None
    codes = tifffile.imread(drawn.swatches)
    bare = tmp_path / "bare.tif"
    tifffile.imwrite(bare, codes[: round(0.85 * len(codes))], photometric="rgb")
    with pytest.raises(TargetError, match="with a strip beside it"):
        check(drawn.scans, options(drawn, swatches=bare))


def test_the_command_line_takes_paints_and_says_what_is_missing(
    drawn: DemoFiles, capsys: pytest.CaptureFixture[str]
) -> None:
    scans = [str(path) for path in drawn.scans]
    given = ["--reference", str(drawn.reference), "--swatches", str(drawn.swatches)]
    assert run(["check", *scans, *given]) == 1
    assert "--swatch-reference FILE" in capsys.readouterr().err
    run(["check", *scans, *given, "--swatch-reference", str(drawn.swatch_reference)])
    assert "your own paints (swatches.tif" in capsys.readouterr().out
