"""A plan for programs: JSON with a version; lengths in mm, sizes in bytes, times in seconds."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

from colormatch import __version__
from colormatch.plans import PlanReport

SCHEMA = 1
"""Grows when a field changes its meaning or goes; new fields leave it as it is."""


def json_plan(report: PlanReport) -> str:
    """Give a plan as JSON text, without NaN or infinity."""
    return json.dumps(plan_data(report), indent=2, ensure_ascii=False, allow_nan=False)


def plan_data(report: PlanReport) -> dict[str, Any]:
    """Give a plan as dictionaries and lists."""
    return {"schema": SCHEMA, "colormatch": __version__, **dataclasses.asdict(report)}
