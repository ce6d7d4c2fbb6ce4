"""Printing a report: results on stdout."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from colormatch.cli.status import Status, status_of
from colormatch.errors import ColormatchError

if TYPE_CHECKING:
    from colormatch.job.log import LogOptions
    from colormatch.verdict import JobReport


def show(report: JobReport, *, as_json: bool, log: LogOptions | None = None) -> Status:
    """Print a report, add it to the log if there is one, and give the exit status."""
    if as_json:
        from colormatch.reporting.as_json import json_report

        click.echo(json_report(report))
    else:
        from colormatch.reporting.terminal import text_report

        click.echo(text_report(report))
    return status_of(report) if log is None else logged(report, log)


def logged(report: JobReport, log: LogOptions) -> Status:
    """Add a printed report to the log; a log that fails does not take the verdict back."""
    from colormatch.job.log import log_report

    try:
        log_report(report, log)
    except ColormatchError as error:
        click.echo(f"colormatch: {error}", err=True)
        return Status.FAILED
    return status_of(report)
