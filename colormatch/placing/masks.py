"""Where in a scan the painting is: not the lid, not the strip, not a bare paper border.

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
BORDER_RING_MM = (1.5, 4.0)
"""How far inside the sheet's edge bare paper is looked for."""
BORDER_SHARE = 0.6
"""How much of that must look like paper: the sheet's own edge and shadow do not."""
BORDER_QUANTILE = 0.3
"""Share of the paint's edge that lies nearer to the background than the border's width."""
BORDER_FRAY_MM = 1.5
"""How ragged that edge may be."""
PAPER = 0.7
"""Least encoded channel of bare paper."""
EDGE_MM = 0.8
"""Taken off all round: the painting's own edge casts a shadow."""
LEAST_PIECE = 0.02
"""Pieces smaller than this share of the scan are not the painting."""

Mask = NDArray[np.bool_]


def painting_mask(
    overview: FloatArray,
    mm_per_px: float,
    strips: tuple[FloatArray, ...] = (),
    behind: FloatArray | None = None,
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
    behind : ndarray of shape (3,) or None
        Encoded colour of what lies behind the painting, from `background_colour` of another scan of
        the job, for a scan without a strip.

    Returns
    -------
    ndarray of bool, shape (H, W)
        All False if nothing is left.
    """
    strip = _filled(overview.shape[:2], strips)
    seeds = _ring(strip, mm_per_px) if strips else _border_like(overview, behind)
    background = _grown(overview, seeds, strip)
    background |= _paper_border(overview, background, strip, mm_per_px)
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


def background_colour(
    overview: FloatArray, mm_per_px: float, strips: tuple[FloatArray, ...]
) -> FloatArray | None:
    """Give the encoded colour (3,) of what lies round the strips; None if nothing flat does."""
    ring = _ring(_filled(overview.shape[:2], strips), mm_per_px) & (_spread(overview) < FLAT)
    return np.median(overview[ring], axis=0) if ring.any() else None


def _border_like(overview: FloatArray, behind: FloatArray | None) -> Mask:
    """Flat places at the scan's border: of the colour behind the painting, or bright."""
    edge = np.zeros(overview.shape[:2], dtype=bool)
    edge[:2], edge[-2:], edge[:, :2], edge[:, -2:] = True, True, True, True
    like = overview.min(axis=2) > BRIGHT if behind is None else _like(overview, behind)
    return np.asarray(edge & like & (_spread(overview) < FLAT))


def _spread(overview: FloatArray) -> FloatArray:
    """Local standard deviation over 3×3, the largest of the channels."""
    import cv2

    values = np.ascontiguousarray(overview, dtype=np.float32)
    mean = cv2.blur(values, (3, 3))
    square = cv2.blur(values * values, (3, 3))
    variance = np.maximum(np.asarray(square - mean * mean), 0.0)
    # Many times as fast as variance.max(axis=2): the axis is only three long.
    red, green, blue = np.moveaxis(variance, 2, 0)
    return np.asarray(np.sqrt(np.maximum(np.maximum(red, green), blue)))


def _like(overview: FloatArray, colour: FloatArray) -> Mask:
    """Tell where no channel differs from a colour by `LIKE`."""
    near = np.abs(overview - colour) < LIKE
    return np.asarray(near[..., 0] & near[..., 1] & near[..., 2])


def _grown(overview: FloatArray, seeds: Mask, strip: Mask) -> Mask:
    """Flat places of the seeds' colour that are connected to them."""
    import cv2

    flat = _spread(overview) < FLAT
    seeds = seeds & flat
    if not seeds.any():
        return np.zeros_like(seeds)
    colour = np.median(overview[seeds], axis=0)
    like = _like(overview, colour) & flat & ~strip
    _, labels = cv2.connectedComponents(like.astype(np.uint8), connectivity=4)
    found = np.unique(np.asarray(labels)[seeds & like])
    # The spread is taken over 3×3: background reaches one place farther.
    return _widened(np.asarray(np.isin(labels, found[found > 0])), 1.0) & ~strip


def _paper_border(overview: FloatArray, background: Mask, strip: Mask, mm_per_px: float) -> Mask:
    """Bare paper between the background and the paint; nothing if there is none.

    It is taken for paper only if nearly all that borders on the background is
    of one bright flat colour.
    """
    near, far = BORDER_RING_MM
    ring = _widened(background, far / mm_per_px) & ~_widened(background, near / mm_per_px)
    ring &= ~_widened(strip, STRIP_MARGIN_MM / mm_per_px)
    if not ring.any():
        return ring
    colour = np.median(overview[ring], axis=0)
    like = _like(overview, colour) & (_spread(overview) < 2.0 * FLAT)
    if colour.min() < PAPER or (like & ring).sum() < BORDER_SHARE * ring.sum():
        return np.zeros_like(ring)
    return _of_one_width(_grown(overview, like & ring, strip), background, mm_per_px)


def _of_one_width(paper: Mask, background: Mask, mm_per_px: float) -> Mask:
    """Only as much of the paper as a border of one width: pale paint may touch it."""
    import cv2

    away = np.asarray(cv2.distanceTransform((~background).astype(np.uint8), cv2.DIST_L2, 5))
    inner = _widened(paper, 1.0) & ~paper & ~background & (away > BORDER_RING_MM[0] / mm_per_px)
    if not inner.any():
        return np.zeros_like(paper)
    width = float(np.quantile(away[inner], BORDER_QUANTILE)) + BORDER_FRAY_MM / mm_per_px
    return np.asarray(paper & (away <= width))


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
