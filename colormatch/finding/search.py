"""Places in a small picture that look like ring marks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.finding.rings import eye_template
from colormatch.model import FloatArray

LEAST_LIKENESS = 0.58
"""Correlation from which a place may be a mark; a clean one has 0.9 and more."""

LEAST_CONTRAST = 0.03
"""Standard deviation of encoded values over a mark; ink on paper has 0.2 and more."""

MOST_PLACES = 300
"""Of each kind; beyond it the least alike are left out."""

SHARPEST_RADIUS = 8.0
"""Pixels; a picture in which marks are twice as large is reduced first."""

SMALLEST_RADIUS = 5.0
"""Pixels; below it the rings merge."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Places:
    """Candidates for marks.

    Attributes
    ----------
    points : ndarray of shape (N, 2)
        x and y, pixels of the small picture.
    eyes : ndarray of bool, shape (N,)
        True for the kind "eye", False for "hoop".
    likeness : ndarray of shape (N,)
        Correlation with the mark, up to 1.
    """

    points: FloatArray
    eyes: NDArray[np.bool_]
    likeness: FloatArray

    def without(self, drop: NDArray[np.bool_]) -> Places:
        """Leave out the places where ``drop`` is True."""
        return Places(
            points=self.points[~drop], eyes=self.eyes[~drop], likeness=self.likeness[~drop]
        )

    def surest(self, count: int, least: float) -> Places:
        """Keep at most ``count`` places, those of ``least`` likeness and more."""
        order = np.argsort(-self.likeness, kind="stable")[:count]
        drop = np.ones(len(self.points), dtype=np.bool_)
        drop[order] = self.likeness[order] < least
        return self.without(drop)


def look_for_marks(grey: FloatArray, radius: float) -> Places:
    """Find the places that look like marks of one size.

    Parameters
    ----------
    grey : ndarray of float32, shape (H, W)
        Encoded values, 0 to 1.
    radius : float
        Of the marks, pixels.

    Returns
    -------
    Places
        Empty if marks of that size are too small or too large for the picture.
    """
    import cv2

    if radius < SMALLEST_RADIUS or 2 * radius + 1 > min(grey.shape):
        return Places(points=np.zeros((0, 2)), eyes=np.zeros(0, bool), likeness=np.zeros(0))
    shrink = int(radius // SHARPEST_RADIUS)
    if shrink > 1:
        height, width = (side // shrink for side in grey.shape)
        cut = grey[: height * shrink, : width * shrink]
        grey = np.asarray(
            cv2.resize(cut, (width, height), interpolation=cv2.INTER_AREA), np.float32
        )
    shrink = max(shrink, 1)
    likeness = ring_likeness(grey, radius / shrink)
    eyes, hoops = (_peaks(sign * likeness, radius / shrink) for sign in (1, -1))
    points = np.concatenate([eyes[:, :2], hoops[:, :2]])
    return Places(
        points=points * shrink + (shrink - 1) / 2,
        eyes=np.repeat([True, False], [len(eyes), len(hoops)]),
        likeness=np.concatenate([eyes[:, 2], hoops[:, 2]]),
    )


def ring_likeness(grey: FloatArray, radius: float) -> FloatArray:
    """Correlate each place with an "eye", free of brightness and contrast.

    Parameters
    ----------
    grey : ndarray of float32, shape (H, W)
        Encoded values.
    radius : float
        Pixels.

    Returns
    -------
    ndarray of float32, shape (H, W)
        1 for a perfect "eye", -1 for a perfect "hoop", 0 where there is no contrast.
    """
    import cv2

    template, disc = eye_template(radius)
    area = float(disc.sum())
    template = template - disc * (float(template.sum()) / area)
    size = float(np.sqrt((template**2).sum() * area))

    def over_disc(values: FloatArray, kernel: FloatArray) -> FloatArray:
        return np.asarray(
            cv2.filter2D(values, -1, kernel, borderType=cv2.BORDER_REPLICATE), np.float32
        )

    # Around zero the squares lose least to float32.
    grey = grey - grey.mean()
    mean = over_disc(grey, disc) / area
    variance = over_disc(grey * grey, disc) / area - mean * mean
    seen = variance > LEAST_CONTRAST**2
    spread = np.sqrt(np.where(seen, variance, 1))
    return np.where(seen, over_disc(grey, template) / (spread * size), 0).astype(np.float32)


def _peaks(likeness: FloatArray, radius: float) -> FloatArray:
    """Give x, y and height of the local maxima, to a fraction of a pixel; (N, 3)."""
    import cv2

    reach = 2 * max(1, round(radius / 3)) + 1
    highest = cv2.dilate(likeness, np.ones((reach, reach), np.uint8))
    rows, columns = np.nonzero((likeness >= highest) & (likeness > LEAST_LIKENESS))
    inside = (
        (rows > 0)
        & (rows < likeness.shape[0] - 1)
        & (columns > 0)
        & (columns < likeness.shape[1] - 1)
    )
    rows, columns = rows[inside], columns[inside]
    best = np.argsort(-likeness[rows, columns], kind="stable")[:MOST_PLACES]
    rows, columns = rows[best], columns[best]
    x = columns + _vertex(likeness, rows, columns, 0, 1)
    y = rows + _vertex(likeness, rows, columns, 1, 0)
    return np.stack([x, y, likeness[rows, columns]], axis=-1)


def _vertex(
    values: FloatArray, rows: FloatArray, columns: FloatArray, down: int, right: int
) -> FloatArray:
    """Give where a parabola through three neighbours has its top, -0.5 to 0.5."""
    before = values[rows - down, columns - right]
    here = values[rows, columns]
    after = values[rows + down, columns + right]
    bend = before - 2 * here + after
    offset = 0.5 * (before - after) / np.where(bend < 0, bend, -1)
    result: FloatArray = np.clip(offset, -0.5, 0.5)
    return result
