"""The report as files: a page for people, JSON for programs."""

from __future__ import annotations

from pathlib import Path

from colormatch.files.whole import written_whole
from colormatch.job.folders import make_folder, refuse_existing
from colormatch.job.options import CheckOptions
from colormatch.verdict import JobReport

NAMES = ("report.html", "report.json")


def refuse_report(options: CheckOptions) -> None:
    """Refuse before any work is done if a report lies where this one would."""
    if options.report is not None:
        refuse_existing([options.report / name for name in NAMES], force=options.force)


def leave_report(report: JobReport, options: CheckOptions) -> JobReport:
    """Write the report into its folder, if one was asked for."""
    if options.report is not None:
        make_folder(options.report)
        write_report(report, options.report, force=options.force)
    return report


def write_report(report: JobReport, folder: Path, *, force: bool) -> None:
    """Write ``report.html`` and ``report.json``, each whole or not at all.

    Raises
    ------
    OutputError
        If one exists and ``force`` is off, or the disk refuses it.
    """
    from colormatch.reporting.as_json import json_report
    from colormatch.reporting.page import html_page

    for name, text in zip(NAMES, (html_page(report), json_report(report) + "\n"), strict=True):
        with written_whole(folder / name, force=force) as temporary:
            temporary.write_text(text, encoding="utf-8")
