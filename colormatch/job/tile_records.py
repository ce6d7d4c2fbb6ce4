"""What is looked for in scans, and one scan on its way: records without arithmetic."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from colormatch.files.reference_folder import Filed
from colormatch.fitting.flare import Surroundings
from colormatch.fitting.readings import TileReadings
from colormatch.inspecting.records import Inspected
from colormatch.job.keeping import Kept, Pixels
from colormatch.model import FloatArray, Layout, Reference, Scan, StripReading, Survey, Window


@dataclass(frozen=True, kw_only=True, eq=False)
class Target:
    """What strips to look for, and what their patches measure.

    With ``filed``, a folder, each strip's values are picked from it by its serial.
    """

    layouts: Mapping[str, Layout]
    references: Mapping[str, Reference]
    nominal: Mapping[str, Reference]
    assumed: tuple[str, ...]
    filed: Filed | None = None
    any_sheet: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class Opened:
    """A scan, its block means by ``step`` pixels, and, until inspected, what they hide.

    ``kept`` holds the pixels round its strips as long.
    """

    scan: Scan
    small: FloatArray
    step: int
    survey: Survey | None = None
    kept: Kept | None = None

    def lighter(self) -> Opened:
        """Let go of what only inspection needs."""
        return replace(self, survey=None, kept=None)

    def read(self, window: Window) -> Pixels:
        """Read a window, from memory if it was read before."""
        return self.scan.read(window) if self.kept is None else self.kept.read(window)


@dataclass(frozen=True, kw_only=True, eq=False)
class Tile:
    """One scan, its strips as read, and its readings for the fit.

    ``references`` are the strips' values, one for each; ``assumed`` says what nobody
    checked about them. ``inspected`` is what the scan shows by itself.
    """

    opened: Opened
    strips: tuple[StripReading, ...]
    rows: tuple[tuple[int, int], ...]
    readings: TileReadings
    surroundings: Surroundings
    along_from_px: FloatArray
    references: tuple[Reference, ...] = ()
    assumed: tuple[str, ...] = ()
    inspected: Inspected | None = None

    @property
    def scan(self) -> Scan:
        """The scan itself."""
        return self.opened.scan
