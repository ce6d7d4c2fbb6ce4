"""Where in a scan the painting is: not the lid, not the strip.

What lies round the strip is what lies behind the painting: the lid or the
backing sheet. Its colour is learnt there; every flat place of that colour that
is connected to it is background. Without a strip only bright flat places at
the scan's own border can be told from paint.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray

RING_MM = (1.5, 5.0)
"""Distance from the strip at which the background's colour is learnt."""
LIKE = 0.10
"""Greatest difference of an encoded channel from the background's colour: light falls off."""
FLAT = 0.012
"""Greatest local spread, encoded, of a place taken for background."""
BRIGHT = 0.82
"""Least encoded channel of background at the border when there is no strip."""
STRIP_MARGIN_MM = 2.5
"""Kept clear round the strip: its shadow and its cut edge."""
SPECK_MM = 2.0
"""Anything narrower than this beside the painting is a shadow, a hair or a thread."""
EDGE_MM = 0.8
"""Taken off all round: the painting's own edge casts a shadow."""
LEAST_PIECE = 0.02
"""Pieces smaller than this share of the scan are not the painting."""

Mask = NDArray[np.bool_]


def painting_mask(
    overview: FloatArray, mm_per_px: float, strips: tuple[FloatArray, ...] = ()
) -> Mask:
    """Find the painting in a scan's overview.

    Parameters
    ----------
    overview : ndarray of shape (H, W, 3)
        Encoded values, 0 to 1.
    mm_per_px : float
        Of the overview.
    strips : tuple of ndarray of shape (4, 2)
        Corners (x, y) of every strip found, overview pixels.

    Returns
    -------
    ndarray of bool, shape (H, W)
        All False if nothing is left.
    """
    strip = _filled(overview.shape[:2], strips)
    seeds = _ring(strip, mm_per_px) if strips else _bright_border(overview)
    background = _grown(overview, seeds, strip)
    painting = _filled_holes(_opened(~background & ~strip, SPECK_MM / mm_per_px))
    painting &= ~_widened(strip, STRIP_MARGIN_MM / mm_per_px)
    return _shrunk(_large_pieces(painting), EDGE_MM / mm_per_px, at_border=False)


def _filled(shape: tuple[int, ...], polygons: tuple[FloatArray, ...]) -> Mask:
    """Fill the polygons with True."""
    import cv2

    canvas = np.zeros(shape[:2], dtype=np.uint8)
    for polygon in polygons:
        cv2.fillPoly(canvas, [np.round(polygon).astype(np.int32)], 1)
    return canvas > 0


def _disc(radius: float) -> NDArray[np.uint8]:
    reach = max(1, round(radius))
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    return np.asarray(x * x + y * y <= (reach + 0.3) ** 2, dtype=np.uint8)


def _widened(mask: Mask, radius: float) -> Mask:
    import cv2

    return np.asarray(cv2.dilate(mask.astype(np.uint8), _disc(radius)) > 0)


def _shrunk(mask: Mask, radius: float, *, at_border: bool) -> Mask:
    """Erode; the scan's own border counts as outside only if ``at_border``."""
    import cv2

    value = 0 if at_border else 1
    reduced = cv2.erode(
        mask.astype(np.uint8),
        _disc(radius),
        borderType=cv2.BORDER_CONSTANT,
        borderValue=value,
    )
    return np.asarray(reduced > 0)


def _opened(mask: Mask, width: float) -> Mask:
    """Without what is narrower than ``width``."""
    core = _shrunk(mask, width / 2.0, at_border=False)
    return _widened(core, width / 2.0) & mask


def _ring(strip: Mask, mm_per_px: float) -> Mask:
    """Band round the strip."""
    near, far = RING_MM
    return _widened(strip, far / mm_per_px) & ~_widened(strip, near / mm_per_px)


def _bright_border(overview: FloatArray) -> Mask:
    """Bright flat places at the scan's border."""
    edge = np.zeros(overview.shape[:2], dtype=bool)
    edge[:2], edge[-2:], edge[:, :2], edge[:, -2:] = True, True, True, True
    return np.asarray(edge & (overview.min(axis=2) > BRIGHT) & (_spread(overview) < FLAT))


def _spread(overview: FloatArray) -> FloatArray:
    """Local standard deviation over 3×3, the largest of the channels."""
    import cv2

    values = np.ascontiguousarray(overview, dtype=np.float32)
    mean = cv2.blur(values, (3, 3))
    square = cv2.blur(values * values, (3, 3))
    variance = np.maximum(np.asarray(square - mean * mean), 0.0)
    return np.asarray(np.sqrt(variance.max(axis=2)))


def _grown(overview: FloatArray, seeds: Mask, strip: Mask) -> Mask:
    """Flat places of the seeds' colour that are connected to them."""
    import cv2

    flat = _spread(overview) < FLAT
    seeds = seeds & flat
    if not seeds.any():
        return np.zeros_like(seeds)
    colour = np.median(overview[seeds], axis=0)
    like = (np.abs(overview - colour) < LIKE).all(axis=2) & flat & ~strip
    _, labels = cv2.connectedComponents(like.astype(np.uint8), connectivity=4)
    found = np.unique(np.asarray(labels)[seeds & like])
    # The spread is taken over 3×3: background reaches one place farther.
    return _widened(np.asarray(np.isin(labels, found[found > 0])), 1.0) & ~strip


def _filled_holes(mask: Mask) -> Mask:
    """Background enclosed by painting is paint of that colour."""
    import cv2

    outside = np.pad(~mask, 1, constant_values=True).astype(np.uint8)
    _, labels = cv2.connectedComponents(outside, connectivity=4)
    labels = np.asarray(labels)
    return np.asarray((labels != labels[0, 0])[1:-1, 1:-1])


def _large_pieces(mask: Mask) -> Mask:
    """Only pieces that can be the painting."""
    import cv2

    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    areas = np.asarray(stats)[:, cv2.CC_STAT_AREA].copy()
    areas[0] = 0
    largest = areas.max(initial=0)
    kept = [k for k in range(1, count) if areas[k] >= max(LEAST_PIECE * mask.size, 0.1 * largest)]
    return np.asarray(np.isin(labels, kept))
