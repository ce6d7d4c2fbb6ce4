"""The picture in pieces: small pieces of one colour, and the painted elements they form.

Small pieces come from a watershed; neighbouring pieces are joined to elements as
long as the step between them is not larger than the steps within, after
P. F. Felzenszwalb and D. P. Huttenlocher, "Efficient graph-based image
segmentation", IJCV 59(2), 2004.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.joining.records import BoolArray
from colormatch.model import FloatArray

IntArray = NDArray[np.integer]

SMOOTH = 0.8
"""Sigma in pixels before the watershed: grain makes no pieces."""
NO_STEP = 2.0
"""Visible difference below which two neighbours are one element in any case."""
SCALE = 12.0
"""How much larger a step may be than the steps within, divided by the number of pieces:
the larger, the larger the elements."""


def visible_difference(lab_a: FloatArray, lab_b: FloatArray) -> FloatArray:
    """Give a quick colour difference, for weighing seams only, never for a report.

    Distance in CIELAB over the chroma weight of the CIE 1994 formula (CIE 116-1995),
    S_C = 1 + 0.045 C*, on both chroma axes.

    Parameters
    ----------
    lab_a, lab_b : ndarray of shape (..., 3)
    """
    return _seen_apart(lab_a, lab_b, _chroma(lab_a) + _chroma(lab_b))


def neighbour_steps(lab: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give the visible difference of neighbouring pixels.

    Parameters
    ----------
    lab : ndarray of shape (h, w, 3)

    Returns
    -------
    across : ndarray of shape (h, w - 1)
        Between each pixel and the one right of it.
    down : ndarray of shape (h - 1, w)
        Between each pixel and the one below it.
    """
    chroma = _chroma(lab)
    return (
        _seen_apart(lab[:, 1:], lab[:, :-1], chroma[:, 1:] + chroma[:, :-1]),
        _seen_apart(lab[1:], lab[:-1], chroma[1:] + chroma[:-1]),
    )


def _seen_apart(lab_a: FloatArray, lab_b: FloatArray, chroma: FloatArray) -> FloatArray:
    """Give the visible difference; ``chroma`` is the sum of both."""
    step = lab_a - lab_b
    step *= step
    weight = 1 + (0.045 / 2) * chroma
    weight *= weight
    apart = step[..., 1] + step[..., 2]
    apart /= weight
    apart += step[..., 0]
    return np.asarray(np.sqrt(apart))


def _chroma(lab: FloatArray) -> FloatArray:
    # A third of the time of numpy's hypot, which guards against numbers no colour has.
    return np.asarray(np.sqrt(lab[..., 1] * lab[..., 1] + lab[..., 2] * lab[..., 2]))


def pieces(lab: FloatArray, zone: BoolArray, cell: int) -> NDArray[np.int32]:
    """Cut a picture into small pieces along its colour edges.

    Parameters
    ----------
    lab : ndarray of shape (h, w, 3)
        CIELAB.
    zone : ndarray of bool, shape (h, w)
        Where pieces are wanted.
    cell : int
        About how many pixels across a piece is.

    Returns
    -------
    ndarray of int32, shape (h, w)
        Number of the piece, from 0 on without gaps; -1 outside the zone.
    """
    import cv2

    picture = _as_bytes(lab)
    labels = _seeds(picture, cell)
    cv2.watershed(picture, labels)
    _close_lines(picture, labels)
    labels[~zone] = -1
    labels[zone] = without_gaps(labels[zone])
    return labels


def without_gaps(numbers: IntArray) -> NDArray[np.int32]:
    """Close gaps in a numbering from 0 on; the order stays."""
    # Numbers are few beside pixels: nothing needs to be sorted.
    used = np.bincount(numbers) > 0
    new = np.cumsum(used, dtype=np.int32)
    new -= 1
    return np.asarray(new[numbers])


def _as_bytes(lab: FloatArray) -> NDArray[np.uint8]:
    """CIELAB as the 8 bits that the watershed takes, grain smoothed away."""
    import cv2

    # Two codes per unit on each axis, so that steps weigh alike.
    scaled = lab.astype(np.float32)
    cv2.patchNaNs(scaled, 0)
    scaled *= 2
    scaled += np.array([20, 128, 128], np.float32)
    blurred = np.asarray(cv2.GaussianBlur(scaled, (0, 0), SMOOTH, dst=scaled))
    return np.clip(blurred, 0, 255, out=blurred).astype(np.uint8)


def _seeds(picture: NDArray[np.uint8], cell: int) -> NDArray[np.int32]:
    """One seed in each cell, where the picture is calmest."""
    import cv2

    grey = picture.astype(np.float32).sum(axis=2)
    slope = np.abs(cv2.Sobel(grey, cv2.CV_32F, 1, 0)) + np.abs(cv2.Sobel(grey, cv2.CV_32F, 0, 1))
    height, width = grey.shape
    rows, columns = -(-height // cell), -(-width // cell)
    padded = np.full((rows * cell, columns * cell), np.inf, dtype=np.float32)
    padded[:height, :width] = slope
    cells = padded.reshape(rows, cell, columns, cell).swapaxes(1, 2).reshape(rows * columns, -1)
    best = cells.argmin(axis=1)
    top, left = np.divmod(np.arange(rows * columns), columns)
    labels = np.zeros((height, width), dtype=np.int32)
    at_row, at_column = top * cell + best // cell, left * cell + best % cell
    labels[at_row, at_column] = np.arange(1, rows * columns + 1)
    return labels


def _close_lines(picture: NDArray[np.uint8], labels: NDArray[np.int32]) -> None:
    """Give the watershed's lines to the neighbouring piece most like them."""
    # A frame without a label saves looking for the picture's rim.
    framed = np.pad(labels, 1)
    width = framed.shape[1]
    across, down = _gaps(picture)
    flat = framed.reshape(-1)
    left = np.flatnonzero(np.pad(labels < 1, 1))
    while len(left):
        best, cost = np.zeros(len(left), np.int32), np.full(len(left), np.inf, np.float32)
        for beside, gaps in ((1, across), (-1, across), (width, down), (-width, down)):
            label, gap = flat[left + beside], gaps[left + min(beside, 0)]
            better = (label > 0) & (gap < cost)
            best = np.where(better, label, best)
            cost = np.where(better, gap, cost)
        if not best.any():
            flat[left] = 1
            break
        flat[left] = best
        left = left[best < 1]
    labels[:] = framed[1:-1, 1:-1]


def _gaps(picture: NDArray[np.uint8]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Differences, summed over channels, from each pixel to the next one and to the one below.

    Flat, with a frame of one pixel around the picture.
    """
    import cv2

    shape = picture.shape[0] + 2, picture.shape[1] + 2
    across, down = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    for gaps, near, far in (
        (across[1:-1, 1:-2], picture[:, :-1], picture[:, 1:]),
        (down[1:-2, 1:-1], picture[:-1], picture[1:]),
    ):
        if near.size:
            apart = np.asarray(cv2.absdiff(near, far)).astype(np.float32)
            gaps[:] = cv2.transform(apart, np.ones((1, 3), np.float32))
    return across.reshape(-1), down.reshape(-1)


def borders(labels: IntArray) -> tuple[IntArray, IntArray]:
    """Find pairs of neighbouring pixels with different numbers.

    Returns
    -------
    tuple of two ndarrays of int
        Flat indices of the two pixels; the second is right of or below the first.
    """
    flat = np.arange(labels.size, dtype=np.int32).reshape(labels.shape)
    right = labels[:, :-1] != labels[:, 1:]
    below = labels[:-1] != labels[1:]
    return (
        np.concatenate([flat[:, :-1][right], flat[:-1][below]]),
        np.concatenate([flat[:, 1:][right], flat[1:][below]]),
    )


def elements(lab: FloatArray, labels: NDArray[np.int32]) -> NDArray[np.int32]:
    """Join pieces to painted elements.

    Parameters
    ----------
    lab : ndarray of shape (h, w, 3)
        CIELAB.
    labels : ndarray of int32, shape (h, w)
        From `pieces`.

    Returns
    -------
    ndarray of int32, shape (pieces,)
        Number of the element that each piece belongs to, from 0 on without gaps.
    """
    count = int(labels.max()) + 1
    inside = labels >= 0
    numbers = labels[inside]
    calm = _calmness(lab)[inside]
    size = np.bincount(numbers, calm, minlength=count)
    sums = [np.bincount(numbers, lab[..., c][inside] * calm, minlength=count) for c in range(3)]
    means: FloatArray = np.stack(sums, axis=-1).astype(float) / size[:, None]
    one, other = (labels.ravel()[side] for side in borders(labels))
    both = (one >= 0) & (other >= 0)
    low, high = np.minimum(one, other)[both], np.maximum(one, other)[both]
    keys = np.unique(low.astype(np.int64) * count + high)
    pairs = np.stack([keys // count, keys % count], axis=-1)
    steps = visible_difference(means[pairs[:, 0]], means[pairs[:, 1]])
    return _merged(pairs, steps, count)


def _calmness(lab: FloatArray) -> FloatArray:
    """Weight of each pixel in its piece's colour: pixels on an edge hold two colours."""
    slope = np.zeros(lab.shape[:2], lab.dtype)
    across, down = neighbour_steps(lab)
    for part, step in (
        (slope[:, 1:], across),
        (slope[:, :-1], across),
        (slope[1:], down),
        (slope[:-1], down),
    ):
        np.maximum(part, step, out=part)
    return np.asarray(1 / (1 + slope**2))


def _merged(pairs: IntArray, steps: FloatArray, count: int) -> NDArray[np.int32]:
    """Join along the smallest steps first, as long as they fit what lies on both sides."""
    parent = list(range(count))
    size, largest = [1] * count, [0.0] * count

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    order = np.argsort(steps, kind="stable")
    one, other = pairs[order].T.tolist()
    for i, j, step in zip(one, other, steps[order].tolist(), strict=True):
        a, b = root(i), root(j)
        if a == b:
            continue
        limit = min(largest[a] + SCALE / size[a], largest[b] + SCALE / size[b])
        if step <= max(limit, NO_STEP):
            parent[b] = a
            size[a] += size[b]
            largest[a] = max(step, largest[a], largest[b])
    return without_gaps(np.array([root(k) for k in range(count)]))
