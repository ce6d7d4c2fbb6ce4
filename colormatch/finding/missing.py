"""Why no strip was found, in words that say what to do."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from colormatch.finding.agreement import sampled_spread
from colormatch.finding.poses import (
    Pose,
    applied,
    corners,
    full_scale,
    likely_poses,
    marks_needed,
)
from colormatch.finding.scales import Resolution, likely_scales, reduced
from colormatch.finding.search import look_for_marks
from colormatch.model import FloatArray, Layout

SURE = 0.75
"""Likeness from which two marks at the right distance are taken for a strip's end."""

MOST_PLACES = 50
"""Places that may be marks; the strip's own are among the most alike."""

MOST_TRIED = 30
"""Poses of each kind that are looked at."""

PLAIN = 0.03
"""Standard deviation of encoded values inside a plain patch, at most."""

LEAST_PATCHES = 5
MOSTLY = 0.7
"""Patches that must be in the picture, and share of them that must be plain."""

END = 0.4
END_PATCHES = 10
NEARLY_ALL = 0.85
"""The same for what lies nearest to one side of a strip that is covered from the other, and
how much of the strip that is."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Trace:
    """Part of a strip, in the picture in which it was looked for."""

    pose: Pose
    mirrored: bool


@dataclass(frozen=True, kw_only=True)
class Missing:
    """Why no strip was found.

    Attributes
    ----------
    reason : str
        ``"missing"``, ``"covered"`` or ``"other sheet"``.
    words : str
        One sentence that says what was seen and what to do, without the file's name.
    """

    reason: str
    words: str


def explain_missing(
    overview: FloatArray,
    step: int,
    size: tuple[int, int],
    layouts: tuple[Layout, ...],
    *,
    ppi: Resolution = None,
) -> str:
    """Say why no strip was found, and what to do; as `why_missing`, words alone."""
    return why_missing(overview, step, size, layouts, ppi=ppi).words


def why_missing(
    overview: FloatArray,
    step: int,
    size: tuple[int, int],
    layouts: tuple[Layout, ...],
    *,
    ppi: Resolution = None,
) -> Missing:
    """Find out why no strip was found, and what to do.

    Parameters
    ----------
    overview, step, size, layouts, ppi
        As for `find_strips`.

    Returns
    -------
    Missing
    """
    overview, step = reduced(overview, step)
    grey = np.ascontiguousarray(overview.mean(axis=2, dtype=np.float32))
    for scales in likely_scales(ppi, step):
        for scale in scales:
            trace = _trace(overview, grey, layouts, scale)
            if trace is not None:
                return _words(trace, scale, step, size)
    return Missing(
        reason="missing",
        words="no strip was found: lay the printed strip face down on the glass beside the "
        "painting, flat and wholly inside the picture, and scan again",
    )


def _trace(
    overview: FloatArray, grey: FloatArray, layouts: tuple[Layout, ...], scale: float
) -> Trace | None:
    """Find what comes nearest to a strip at one scale: most marks, then most alike."""
    traces: list[Trace] = []
    for layout in layouts:
        places = look_for_marks(grey, scale * layout.marks[0].diameter / 2)
        sure = places.surest(MOST_PLACES, SURE)
        needed = marks_needed(layout)
        for mirrored, design in ((False, layout), (True, _mirrored(layout))):
            whole = likely_poses(sure, design, scale, needed)[:MOST_TRIED]
            traces += [Trace(pose=pose, mirrored=mirrored) for pose in whole]
        parts = likely_poses(sure, layout, scale, min(2, needed), base=0.0)[:MOST_TRIED]
        traces += [Trace(pose=pose, mirrored=False) for pose in parts]
    traces = [trace for trace in traces if _is_printed(overview, trace)]
    return max(traces, key=lambda trace: (len(trace.pose.seen), trace.pose.score), default=None)


def _mirrored(layout: Layout) -> Layout:
    """Give the design as seen in a mirror."""
    marks = tuple(replace(mark, x=layout.width - mark.x) for mark in layout.marks)
    patches = tuple(
        replace(patch, x=layout.width - patch.x - patch.width) for patch in layout.patches
    )
    return replace(layout, marks=marks, patches=patches)


def _is_printed(overview: FloatArray, trace: Trace) -> bool:
    """Tell whether the patches seen are plain, as paintings seldom are in such a grid."""
    layout = trace.pose.layout
    spread = sampled_spread(overview, trace.pose.px_from_mm, layout)
    if _plain(spread, LEAST_PATCHES, MOSTLY):
        return True
    middles = np.array([(p.x + p.width / 2, p.y + p.height / 2) for p in layout.patches])
    share = middles / (layout.width, layout.height)
    ends = [*(share < END).T, *(share > 1 - END).T]
    return any(_plain(spread[end], END_PATCHES, NEARLY_ALL) for end in ends)


def _plain(spread: FloatArray, least: int, share: float) -> bool:
    """Tell whether enough patches are in the picture and plain; ``spread`` of each, or NaN."""
    seen = spread[np.isfinite(spread)]
    return len(seen) >= least and float(np.mean(seen < PLAIN)) >= share


def _words(trace: Trace, scale: float, step: int, size: tuple[int, int]) -> Missing:
    """Say what was seen, where, and what to do."""
    pose = trace.pose
    x, y = np.mean(list(pose.seen.values()), axis=0) / scale
    place = f"near {x:.0f}, {y:.0f} mm from the picture's top left corner"
    seen = f"{len(pose.seen)} of {len(pose.layout.marks)} marks of a strip are seen {place}"
    if trace.mirrored:
        return Missing(
            reason="missing",
            words=f"a strip is seen in mirror image {place}: turn off mirroring in the scanner's "
            "software, lay the strip printed side to the glass, and scan again",
        )
    border = applied(full_scale(pose.px_from_mm, step), corners(pose.layout))
    if (border < -step).any() or (border > np.array(size) + step).any():
        return Missing(
            reason="covered",
            words=f"{seen}, the rest lies outside the picture: move the strip, or widen the "
            "scanned area, so that it is wholly in the picture, and scan again",
        )
    if len(pose.seen) < marks_needed(pose.layout):
        return Missing(
            reason="covered",
            words=f"{seen}, the others are covered or dirty: clear the strip and scan again",
        )
    return Missing(
        reason="other sheet" if len(pose.seen) == len(pose.layout.marks) else "covered",
        words=f"{seen}, but its patches do not have the colours of {pose.layout.name}: clear the "
        "strip if it is covered, or give the layout and reference of this sheet with --layout "
        "and --reference",
    )
