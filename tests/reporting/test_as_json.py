"""The report for programs, held against its schema."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError

from colormatch.reporting.as_json import SCHEMA, json_report
from colormatch.verdict import Advice, Kind
from tests.reporting.conftest import Left
from tests.reporting.records import colour, finding, report, tile

COMMANDS = ("check", "match", "merge")


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    text = files("colormatch.reporting").joinpath("report.schema.json").read_text("utf-8")
    found: dict[str, Any] = json.loads(text)
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


def test_the_schema_is_one(schema: dict[str, Any]) -> None:
    Draft202012Validator.check_schema(schema)
    assert schema["properties"]["schema"]["const"] == SCHEMA == 1


@pytest.mark.parametrize("command", COMMANDS)
def test_every_report_fits_the_schema_and_has_no_field_it_does_not_name(
    jobs: dict[str, Left], schema: dict[str, Any], command: str
) -> None:
    Draft202012Validator(closed(schema)).validate(json.loads(jobs[command].json))


def test_a_report_with_a_wrong_field_does_not_fit(
    jobs: dict[str, Left], schema: dict[str, Any]
) -> None:
    data = json.loads(jobs["check"].json)
    data["tiles"][0]["advice"] = "perhaps"
    with pytest.raises(ValidationError):
        Draft202012Validator(schema).validate(data)


def test_a_hand_made_report_fits_too(schema: dict[str, Any]) -> None:
    Draft202012Validator(closed(schema)).validate(json.loads(json_report(report())))


@pytest.mark.parametrize("command", COMMANDS)
def test_the_file_beside_the_page_is_the_same_report(jobs: dict[str, Left], command: str) -> None:
    assert jobs[command].json == json_report(jobs[command].report) + "\n"


def test_figures_are_plain_numbers_and_pictures_stay_out() -> None:
    data = json.loads(json_report(report(tile("/scans/Ä.tif"))))
    first = data["tiles"][0]
    assert first["scan"] == "/scans/Ä.tif"
    assert first["colour"]["gains"] == [1.0, 0.97, 0.912]
    assert first["advice"] == "use it"
    assert first["outcome"]["level"] == "matched"
    assert first["outcome"]["levels"]["matched"][0] == {
        "metric": "mean_de00", "unit": "ΔE", "limit": "≤ 2", "value": 0.6, "passed": True,
    }  # fmt: skip
    assert "views" not in data


def test_the_schema_names_every_kind_of_finding(schema: dict[str, Any]) -> None:
    named = schema["$defs"]["finding"]["properties"]["kind"]["enum"]
    assert named == [kind.value for kind in Kind]


def test_a_finding_keeps_its_figures(schema: dict[str, Any]) -> None:
    one = finding(Advice.CARE, places=((1.0, 2.0, 3.0, 4.0),), hint=True)
    data = json.loads(json_report(report(tile(findings=(one,)))))
    Draft202012Validator(closed(schema)).validate(data)
    assert data["tiles"][0]["findings"][0] == {
        "kind": "strip-bent", "advice": "use it with care", "text": one.text,
        "next_step": one.next_step, "measure": 0.213, "unit": "mm", "limit": 0.15,
        "places": [[1.0, 2.0, 3.0, 4.0]], "hint": True,
    }  # fmt: skip


def test_what_is_no_number_is_refused() -> None:
    bad = replace(tile(), colour=replace(colour(), departure=float("nan")))
    with pytest.raises(ValueError, match="JSON"):
        json_report(report(bad))
