"""Lengths as a user writes them, with their unit."""

from __future__ import annotations

import re
from typing import Any

import click

MILLIMETRES = {"mm": 1.0, "cm": 10.0, "in": 25.4}
"""Per unit; the inch is 25.4 mm exactly (ISO 31-1)."""


class Measures(click.ParamType[tuple[float, ...]]):
    """One or two lengths with a unit: ``30mm``, ``50x70cm``, ``8.5x11in``; given in mm.

    Where ``bare`` names a unit, lengths may be written without one.
    """

    name = "lengths"

    def __init__(self, count: int, *, bare: str = "") -> None:
        self.count = count
        self.bare = bare

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, ...]:
        """Read the lengths; click reports what does not fit."""
        if isinstance(value, tuple):
            return value
        example = "500x700mm, 50x70cm or 20x28in" if self.count == 2 else "30mm, 3cm or 1.2in"
        number = r"(\d+(?:[.,]\d+)?)"
        between = r"\s*(mm|cm|in)?\s*[x×]\s*"
        pattern = between.join([number] * self.count) + r"\s*(mm|cm|in)?"
        match = re.fullmatch(pattern, str(value).strip().lower())
        if match is None:
            self.fail(f"{value!r} is no length: write it like {example}", param, ctx)
        numbers, units = match.groups()[::2], match.groups()[1::2]
        # A unit at the end holds for both: 50x70cm.
        named = [unit or units[-1] or self.bare for unit in units]
        if not all(named):
            self.fail(f"{value!r} has no unit: write it like {example}", param, ctx)
        return tuple(
            float(text.replace(",", ".")) * MILLIMETRES[str(unit)]
            for text, unit in zip(numbers, named, strict=True)
        )
