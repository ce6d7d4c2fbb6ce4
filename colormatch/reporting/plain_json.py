"""Plans and transfers for programs: JSON with a version, fields as the records have them.

A plan's lengths are in mm, sizes in bytes, times in seconds; a transfer's figures
are ΔE2000.
"""

from __future__ import annotations

import dataclasses
import json
from typing import Any

from colormatch import __version__
from colormatch.plans import PlanReport
from colormatch.verdict import TransferReport

SCHEMA = 1
"""Grows when a field changes its meaning or goes; new fields leave it as it is."""


def plain_json(report: PlanReport | TransferReport) -> str:
    """Give a report as JSON text, without NaN or infinity."""
    return json.dumps(plain_data(report), indent=2, ensure_ascii=False, allow_nan=False)


def plain_data(report: PlanReport | TransferReport) -> dict[str, Any]:
    """Give a report as dictionaries and lists."""
    return {"schema": SCHEMA, "colormatch": __version__, **dataclasses.asdict(report)}
