"""The report for programs: JSON with a version, every figure as a plain number."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

from colormatch import __version__
from colormatch.standards.tolerances import Outcome
from colormatch.verdict import JobReport, TileReport

SCHEMA = 1
"""Grows when a field changes its meaning or goes; new fields leave it as it is."""


def json_report(report: JobReport) -> str:
    """Give the whole report as JSON text.

    Parameters
    ----------
    report : JobReport

    Returns
    -------
    str
        Indented, keys in a stable order, no NaN or infinity.
    """
    return json.dumps(report_data(report), indent=2, ensure_ascii=False, allow_nan=False)


def report_data(report: JobReport) -> dict[str, Any]:
    """Give the report as dictionaries and lists."""
    data = {
        field.name: getattr(report, field.name)
        for field in dataclasses.fields(report)
        if field.name not in ("tiles", "merged", "swatches", "views")
    }
    return {
        "schema": SCHEMA,
        "colormatch": __version__,
        **data,
        "tiles": [tile_data(tile) for tile in report.tiles],
        "swatches": None if report.swatches is None else dataclasses.asdict(report.swatches),
        "merged": None if report.merged is None else dataclasses.asdict(report.merged),
    }


def tile_data(tile: TileReport) -> dict[str, Any]:
    """Give one tile; the outcome by level and figure."""
    data = dataclasses.asdict(dataclasses.replace(tile, outcome=None))
    data["outcome"] = None if tile.outcome is None else outcome_data(tile.outcome)
    return data


def outcome_data(outcome: Outcome) -> dict[str, Any]:
    """Give what was measured against which figures."""
    return {
        "tolerance": outcome.tolerance_set.name,
        "measured_against": outcome.tolerance_set.title,
        "source": outcome.tolerance_set.source,
        "level": outcome.level,
        "levels": {
            name: [
                {
                    "metric": check.metric.key,
                    "unit": check.metric.unit,
                    "limit": check.tolerance.limit,
                    "value": check.value,
                    "passed": check.passed,
                }
                for check in checks
            ]
            for name, checks in outcome.checks.items()
        },
    }
