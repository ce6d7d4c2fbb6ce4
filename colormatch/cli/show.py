"""Printing a report: results on stdout."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from colormatch.cli.status import Status, status_of

if TYPE_CHECKING:
    from colormatch.verdict import JobReport


def show(report: JobReport, *, as_json: bool) -> Status:
    """Print a report and give the exit status."""
    if as_json:
        from colormatch.reporting.as_json import json_report

        click.echo(json_report(report))
    else:
        from colormatch.reporting.terminal import text_report

        click.echo(text_report(report))
    return status_of(report)
