"""``colormatch plan`` from the outside: text, JSON, drawing, and clear refusals."""

from __future__ import annotations

import io
import json
import shlex
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from colormatch.cli.main import run
from tests.reporting.reading import drawn

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    text = files("colormatch.reporting").joinpath("plan.schema.json").read_text("utf-8")
    found: dict[str, Any] = json.loads(text)
    Draft202012Validator.check_schema(found)
    return found


def closed(node: Any) -> Any:
    """Allow no field that the schema does not name."""
    if isinstance(node, list):
        return [closed(one) for one in node]
    if not isinstance(node, dict):
        return node
    inner = {key: closed(value) for key, value in node.items()}
    if "properties" in node and node.get("type") == "object":
        inner["additionalProperties"] = False
    return inner


def planned(capsys: Capture, *arguments: str) -> dict[str, Any]:
    assert run(["plan", *arguments, "--json"]) == 0
    data: dict[str, Any] = json.loads(capsys.readouterr().out)
    return data


@pytest.mark.parametrize(
    "arguments",
    [
        ("--painting", "500x700mm"),
        ("--painting", "24x30cm", "--frame", "paper"),
        ("--painting", "18x24in", "--frame", "board", "--glass", "297x420mm"),
        ("--painting", "100x100mm", "--clear", "0mm"),
    ],
)
def test_json_fits_its_schema_and_has_no_field_it_does_not_name(
    capsys: Capture, schema: dict[str, Any], arguments: tuple[str, ...]
) -> None:
    Draft202012Validator(closed(schema)).validate(planned(capsys, *arguments))


def test_units_are_the_same_painting(capsys: Capture) -> None:
    size = planned(capsys, "--painting", "508x711.2mm")["grid"]["wish"]["painting"]
    # 20 and 28 inches of 25.4 mm.
    for same in (
        "50.8x71.12cm",
        "20x28in",
        "20in x 28in",
        "20IN×28",
        "50,8 x 71,12 cm",
        "508mmx28in",
    ):
        if same == "20IN×28":
            assert run(["plan", "--painting", same]) == 2
            capsys.readouterr()
            continue
        other = planned(capsys, "--painting", same)["grid"]["wish"]["painting"]
        assert other == pytest.approx(size)


def test_the_text_says_all_a_painter_needs(capsys: Capture) -> None:
    assert run(["plan", "--painting", "500x700mm"]) == 0
    out = capsys.readouterr().out
    for part in (
        "9 scans, 3 x 3", "not every tile can have a strip", "tiles 2, 5 of 9", "(A3): 6 tiles",
        "top is at the top", "face down", "215 MB", "3.3 GB", "44 min", "at 300 ppi up to 1000 x",
        "at 240 ppi", "same way up", "conservator", "guesses", "--order 3x3 --sheet 500x700mm",
    ):  # fmt: skip
        assert part in out


def test_the_merge_command_is_one_that_merge_understands(capsys: Capture, tmp_path: Path) -> None:
    data = planned(capsys, "--painting", "240x300mm", "--frame", "paper")
    words = shlex.split(data["command"])
    assert words[:2] == ["colormatch", "merge"]
    names = [word for word in words if word.startswith("tile-")]
    assert names == [tile["name"] for tile in data["grid"]["tiles"]]
    # Every option is known and every value understood: what fails is that no file is there.
    moved = [str(tmp_path / w) if w.endswith((".tif", ".txt")) else w for w in words[1:]]
    assert run(moved) != 0
    assert "o such file" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["plan.svg", "plan.PNG"])
def test_the_drawing_is_written_once(name: str, tmp_path: Path, capsys: Capture) -> None:
    out = tmp_path / name
    command = ["plan", "--painting", "500x700mm", "--out", str(out)]
    assert run(command) == 0
    assert str(out) in capsys.readouterr().out
    data = out.read_bytes()
    if name.endswith("svg"):
        root = drawn(data.decode())
        assert root.tag.endswith("svg")
        assert "2, no strip" in data.decode()
    else:
        with Image.open(io.BytesIO(data)) as picture:
            assert picture.format == "PNG"
            assert picture.width == 1800
    assert run(command) != 0
    assert "exists already" in capsys.readouterr().err
    assert out.read_bytes() == data
    assert [p.name for p in tmp_path.iterdir()] == [name]


def test_a_drawing_of_another_kind_is_refused(tmp_path: Path, capsys: Capture) -> None:
    assert run(["plan", "--painting", "500x700mm", "--out", str(tmp_path / "plan.pdf")]) != 0
    assert ".svg or .png" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--painting", "500x700"), "has no unit"),
        (("--painting", "20inx28"), "has no unit"),
        (("--painting", "500mm"), "is no length"),
        (("--painting", "axb"), "is no length"),
        (("--painting", "-5x7mm"), "is no length"),
        (("--painting", "50x70ft"), "is no length"),
        (("--painting", "500x700mm", "--overlap", "30"), "has no unit"),
        (("--painting", "500x700mm", "--overlap", "400mm"), "ask for less"),
        (("--painting", "500x700mm", "--glass", "50x60mm"), "use a larger scanner"),
        (("--painting", "500x700mm", "--ppi", "9"), "no resolution"),
        (("--painting", "500x700mm", "--frame", "marble"), "stretched"),
        ((), "--painting"),
    ],
)
def test_what_cannot_be_planned_is_said_in_one_sentence(
    capsys: Capture, arguments: tuple[str, ...], said: str
) -> None:
    assert run(["plan", *arguments]) in (1, 2)
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert "Traceback" not in err
