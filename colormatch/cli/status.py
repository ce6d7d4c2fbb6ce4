"""Exit status, decided in one place."""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from colormatch.verdict import JobReport


class Status(IntEnum):
    """What the program's exit status means."""

    DONE = 0
    FAILED = 1
    USAGE = 2
    ABOVE_TOLERANCE = 3


def status_of(report: JobReport) -> Status:
    """Give the exit status that a report deserves."""
    if report.failed:
        return Status.FAILED
    return Status.DONE if report.within else Status.ABOVE_TOLERANCE
