"""A history for programs: JSON with a version; changes in percent, slopes per year."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

from colormatch import __version__
from colormatch.drifts import HistoryReport

SCHEMA = 1
"""Grows when a field changes its meaning or goes; new fields leave it as it is."""


def json_history(report: HistoryReport) -> str:
    """Give a history as JSON text, without NaN or infinity."""
    return json.dumps(history_data(report), indent=2, ensure_ascii=False, allow_nan=False)


def history_data(report: HistoryReport) -> dict[str, Any]:
    """Give a history as dictionaries and lists."""
    return {"schema": SCHEMA, "colormatch": __version__, **dataclasses.asdict(report)}
