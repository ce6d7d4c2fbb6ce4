"""Finding targets of either kind in one scan: by their marks, or by their patches."""

from __future__ import annotations

from collections.abc import Mapping

from colormatch.finding.grids import find_chart
from colormatch.finding.reading import Read
from colormatch.finding.scales import Resolution
from colormatch.finding.strips import find_strips
from colormatch.model import FloatArray, Layout, Reference, StripReading


def find_targets(
    overview: FloatArray,
    step: int,
    read: Read,
    size: tuple[int, int],
    layouts: tuple[Layout, ...],
    *,
    references: Mapping[str, Reference],
    ppi: Resolution = None,
) -> list[StripReading]:
    """Find all strips with marks, and each chart without marks once.

    Parameters
    ----------
    overview, step, read, size, layouts, references, ppi
        As for `strips.find_strips`; layouts may be of both kinds.

    Returns
    -------
    list of StripReading
        Strips first; empty if nothing is found.

    Raises
    ------
    LayoutError
        If a mark is of an unknown kind.
    """
    marked = tuple(layout for layout in layouts if layout.marks)
    found = (
        find_strips(overview, step, read, size, marked, references=references, ppi=ppi)
        if marked
        else []
    )
    for layout in layouts:
        if not layout.marks:
            search = find_chart(
                overview, step, read, size, layout, references[layout.name], ppi=ppi
            )
            found += [search.strip] if search.strip is not None else []
    return found
