"""Whether the strip lay flat: its patches against where its marks say they are.

A sheet that stands off the glass is seen from the lens under another angle: its
parts move towards the middle of the lamp, more the higher they are. The marks
at both ends hide that; the patches between them show it.
"""

from __future__ import annotations

import numpy as np

from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray, Layout

LIMIT_MM = 0.08
"""Distance from where a flat sheet has a column of patches: one and a half times the largest
waves of a carriage (0.03 to 0.05 mm), six times what flat strips show."""
PER_MM = 8.0
"""Samples per mm along the strip."""
REACH_MM = 1.2
"""Largest distance looked for."""
INNER = 0.6
"""Share of a patch's height that is averaged."""
BLUR_MM = 0.12
"""Standard deviation of the model's edges: a printed edge through a scanner's lens."""
CONTRAST = 0.002
"""Variance of a column's model below which there is nothing to match."""
LEAST_COLUMNS = 8
LEAST_GROUND_MM = 1.0
WORST = 0.9
"""Quantile over the columns: one covered column bends no strip."""


def rows_of(layout: Layout) -> list[list[int]]:
    """Give the patches in rows, from the top, each from left to right; short rows left out.

    There are none if no bare ground lies above them to know them by.
    """
    by_top: dict[float, list[int]] = {}
    for index, patch in enumerate(layout.patches):
        by_top.setdefault(round(patch.y, 2), []).append(index)
    rows = [sorted(row, key=lambda i: layout.patches[i].x) for _, row in sorted(by_top.items())]
    rows = [row for row in rows if len(row) >= LEAST_COLUMNS]
    return rows if rows and layout.patches[rows[0][0]].y >= LEAST_GROUND_MM else []


def sample_lines(layout: Layout, row: list[int]) -> tuple[FloatArray, FloatArray]:
    """Give the places, mm on the strip, that are averaged across a row: x (N,), y (M,)."""
    first, last = layout.patches[row[0]], layout.patches[row[-1]]
    start, end = first.x - 1.0, last.x + last.width + 1.0
    height = min(layout.patches[i].height for i in row)
    x = np.arange(max(start, 0.0), min(end, layout.width), 1 / PER_MM)
    y = first.y + height * np.linspace(0.5 - INNER / 2, 0.5 + INNER / 2, 15)
    return x, y


def profile(
    pixels: FloatArray, origin: tuple[float, float], px_from_mm: FloatArray, x: FloatArray,
    y: FloatArray,
) -> FloatArray:  # fmt: skip
    """Average a row of patches along the strip: encoded values, shape (N, 3).

    ``pixels`` (h, w, 3) is a window of the scan from pixel ``origin`` (x, y) on.
    """
    import cv2

    places = np.stack(np.meshgrid(x, y), axis=-1) @ px_from_mm[:, :2].T
    places += px_from_mm[:, 2] - np.asarray(origin)
    seen = cv2.remap(
        pixels,
        places[..., 0].astype(np.float32),
        places[..., 1].astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(np.median(seen, axis=0), dtype=np.float64)


def ground_lines(layout: Layout, row: list[int]) -> FloatArray:
    """Give the places, y in mm, above the first row of patches, that show the bare ground."""
    top = layout.patches[row[0]].y
    return np.linspace(0.35, 0.75, 5) * top


def shifts(
    seen: FloatArray, ground: FloatArray, x: FloatArray, layout: Layout, row: list[int]
) -> FloatArray:
    """Find how far each patch of a row lies from its place.

    The row is drawn anew from the colours in the middle of its patches and the
    ground between them, and moved until it fits.

    Parameters
    ----------
    seen, ground : ndarray of shape (N, 3)
        From `profile`: across the patches, and across the ground above them.
    x : ndarray of shape (N,)
        Where, mm.
    layout, row
        The strip and the patches in question.

    Returns
    -------
    ndarray of shape (K, 2)
        Place along the strip and shift, mm, of those that can be measured.
    """
    drawn = _drawn(seen, ground, x, layout, row)
    tried = np.arange(-REACH_MM, REACH_MM + 0.01, 0.1)
    steps = np.round(tried * PER_MM, 6)
    at = np.arange(len(x), dtype=float)
    moved = np.stack(
        [np.stack([np.interp(at - k, at, drawn[:, c]) for c in range(3)], axis=1) for k in steps]
    )
    misfit = ((moved - seen) ** 2).sum(axis=2)
    found = []
    for index in row:
        patch = layout.patches[index]
        near = (x > patch.x - 1.2) & (x < patch.x + patch.width + 1.2)
        enough = float(drawn[near].var(axis=0).sum()) > CONTRAST
        shift = _least(misfit[:, near].sum(axis=1), tried) if enough else None
        if shift is not None:
            found.append((patch.x + patch.width / 2, shift))
    return np.asarray(found, dtype=float).reshape(-1, 2)


def _drawn(
    seen: FloatArray, ground: FloatArray, x: FloatArray, layout: Layout, row: list[int]
) -> FloatArray:
    from scipy.ndimage import gaussian_filter1d

    drawn = ground.copy()
    for index in row:
        patch = layout.patches[index]
        inside = (x >= patch.x) & (x <= patch.x + patch.width)
        middle = np.abs(x - patch.x - patch.width / 2) < 0.25 * patch.width
        drawn[inside] = np.median(seen[middle], axis=0)
    return np.asarray(gaussian_filter1d(drawn, BLUR_MM * PER_MM, axis=0, mode="nearest"))


def _least(misfit: FloatArray, tried: FloatArray) -> float | None:
    """Give the lowest point of a sampled curve; None if it lies at an end."""
    k = int(np.argmin(misfit))
    if not 0 < k < len(misfit) - 1:
        return None
    before, here, after = misfit[k - 1 : k + 2]
    bow = before - 2 * here + after
    return float(tried[k] + 0.5 * (before - after) / bow * (tried[1] - tried[0])) if bow else None


def bend(found: FloatArray) -> Noticed | None:
    """Judge how far the patches leave a straight, evenly spaced line.

    Parameters
    ----------
    found : ndarray of shape (K, 2)
        Place and shift, mm, over all rows.

    Returns
    -------
    Noticed or None
        Millimetres; None where too few patches could be measured.
    """
    if len(found) < LEAST_COLUMNS:
        return None
    x, shift = found[np.argsort(found[:, 0])].T
    left = shift - np.polyval(np.polyfit(x, shift, 1), x)
    kept = np.abs(left) < REACH_MM
    smooth = _running_median(left[kept], 5)
    return Noticed(measure=float(np.quantile(np.abs(smooth), WORST)), limit=LIMIT_MM)


def _running_median(values: FloatArray, wide: int) -> FloatArray:
    from scipy.ndimage import median_filter

    return np.asarray(median_filter(values, wide, mode="nearest"))
