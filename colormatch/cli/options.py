"""Options that several commands share, declared once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from colormatch.standards.figures import TOLERANCE_SETS

Decorator = Callable[[Callable[..., Any]], Callable[..., Any]]

scans = click.argument(
    "scans", nargs=-1, required=True, metavar="SCANS...", type=click.Path(path_type=Path)
)
force = click.option("--force", is_flag=True, help="Replace results that exist already.")
as_json = click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")


def measuring(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that say what the strip is and how good is good enough."""
    options: tuple[Decorator, ...] = (
        click.option(
            "--reference",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Measured values of the strip (ISO 28178 text or CSV). "
            "Without it its nominal values are assumed.",
        ),
        click.option(
            "--layout",
            type=click.Path(path_type=Path),
            metavar="FILE",
            help="Design of the target (TOML). Without it any strip of ours is looked for.",
        ),
        click.option(
            "--tolerance",
            type=click.Choice(list(TOLERANCE_SETS)),
            default="matched",
            show_default=True,
            help="Published figures to measure against.",
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function
