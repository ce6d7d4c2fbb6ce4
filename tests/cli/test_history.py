"""``colormatch history`` from the outside: text, JSON, plot, filters, refusals."""

from __future__ import annotations

import io
import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from colormatch.cli.main import run
from colormatch.files.log import append_log
from tests.cli.test_plan import closed
from tests.files.log_entries import unusable
from tests.reporting.reading import drawn
from tests.tracking.histories import Plan, State, history

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("logs") / "studio.log"
    rows = history(
        Plan(scanner="Bench", days=12, last=State(keep=(1, 0.8, 1, 1))),
        Plan(scanner="Other", strip="second", days=3, kind="nominal"),
    )
    append_log(path, [*rows, unusable()])
    return path


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    text = files("colormatch.reporting").joinpath("history.schema.json").read_text("utf-8")
    found: dict[str, Any] = json.loads(text)
    Draft202012Validator.check_schema(found)
    return found


def test_the_text_says_what_fades_since_when_and_what_to_do(log: Path, capsys: Capture) -> None:
    assert run(["history", str(log)]) == 0
    out = capsys.readouterr().out
    assert "16 scans, 1 of which could not be used" in out
    for part in (
        "scanner Bench, strip first", "the strip fades", "magenta about 1", "2025-01-06 to 2026-07",
        "next: have this strip measured again", "limits:", "10 %", "beyond 10 %", "within 10 %",
        "day by day", "scanner Other", "too few days to tell a trend", "assumed:", "Theil and Sen",
    ):  # fmt: skip
        assert part in out, part


def test_json_fits_its_schema_and_has_no_field_it_does_not_name(
    log: Path, schema: dict[str, Any], capsys: Capture
) -> None:
    assert run(["history", str(log), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    Draft202012Validator(closed(schema)).validate(data)
    assert [one["cause"] for one in data["statements"]] == ["ink", "too-few"]
    trend = data["series"][0]["trends"]["magenta"]
    assert trend["low"] < trend["slope"] < trend["high"]
    data["statements"][0]["cause"] = "magic"
    assert not Draft202012Validator(schema).is_valid(data)


@pytest.mark.parametrize("name", ["plot.svg", "plot.png"])
def test_the_plot_is_written_once(log: Path, name: str, tmp_path: Path, capsys: Capture) -> None:
    out = tmp_path / name
    assert run(["history", str(log), "--plot", str(out)]) == 0
    assert str(out) in capsys.readouterr().out
    data = out.read_bytes()
    if name.endswith("svg"):
        drawn(data.decode())
        words = data.decode()
        for part in ("magenta", "limit 10 %", "limit of the mean 2", "2025-", "the strip fades"):
            assert part in words
    else:
        with Image.open(io.BytesIO(data)) as picture:
            assert picture.format == "PNG"
    assert run(["history", str(log), "--plot", str(out)]) != 0
    assert "exists already" in capsys.readouterr().err
    assert out.read_bytes() == data


def test_names_and_dates_choose_what_is_shown(log: Path, capsys: Capture) -> None:
    assert run(["history", str(log), "--scanner", "bench"]) == 0
    out = capsys.readouterr().out
    assert "scanner Bench" in out
    assert "scanner Other" not in out
    assert run(["history", str(log), "--strip", "second", "--since", "2025"]) == 0
    assert "scanner Bench" not in capsys.readouterr().out
    assert run(["history", str(log), "--scanner", "Bench", "--since", "2026-01", "--json"]) == 0
    days = json.loads(capsys.readouterr().out)["series"][0]["days"]
    assert min(day["date"] for day in days) >= "2026-01"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--scanner", "Nowhere"), "has nothing by these names; it has scanner 'Bench'"),
        (("--since", "soon"), "is no date"),
        (("--since", "2025-13"), "is no date"),
        (("--since", "2031"), "holds no scan since 2031"),
        (("--plot", "plot.pdf"), ".svg or .png"),
    ],
)
def test_what_cannot_be_shown_is_said(
    log: Path, arguments: tuple[str, ...], said: str, capsys: Capture
) -> None:
    assert run(["history", str(log), *arguments]) in (1, 2)
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err


def test_a_log_without_scans_or_without_usable_ones_is_said(
    tmp_path: Path, capsys: Capture
) -> None:
    assert run(["history", str(tmp_path / "none")]) in (1, 2)
    assert "there is no log" in capsys.readouterr().err
    path = tmp_path / "new.log"
    path.touch()
    assert run(["history", str(path)]) in (1, 2)
    assert "holds no scans yet" in capsys.readouterr().err
    append_log(path, [unusable()])
    assert run(["history", str(path)]) in (1, 2)
    assert "none of the scans" in capsys.readouterr().err
    (tmp_path / "notes.txt").write_text("mine")
    assert run(["history", str(tmp_path / "notes.txt")]) in (1, 2)
    assert "no log of colormatch" in capsys.readouterr().err
