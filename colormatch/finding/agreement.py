"""Whether the colours at a supposed place are those of the target."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.spaces import rgb_space
from colormatch.model import FloatArray, Layout, Reference

BoolArray = NDArray[np.bool_]

INNER = 0.5
"""Share of a patch's side that is sampled."""

SAMPLES = 5
"""Along each side of a patch."""

DROPPED = 0.25
"""Share of the patches that may be covered: the worst are left out of the fit."""

ROUNDS = 8
"""Of the fit; what is left out changes little after a few."""

LEAST_GREY = 0.8
LEAST_CHROMA = 0.6
"""Shares of the variance, of lightness and of each chroma axis, that a linear map from
nominal colours to the scan's must explain."""

LEAST_SPREAD = 0.005
"""Standard deviation of encoded values along an axis, at least: one 8-bit code and more."""

TERMS = 4
"""Of the linear map, for each channel."""

PLAIN = 0.02
"""Standard deviation of encoded values below which an axis is not judged: the target
itself does not vary along it."""

AXES = np.array([[1, 1, 1], [1, 0, -1], [1, -2, 1]]) / np.sqrt([[3], [2], [6]])
"""Grey, red against blue, and both against green; used as ``rgb @ AXES.T``."""


def expected_rgb(layout: Layout, reference: Reference) -> FloatArray:
    """Give the sRGB values of a target's patches, as a picture encodes them.

    Parameters
    ----------
    layout : Layout
        The target.
    reference : Reference
        Its values, in any order.

    Returns
    -------
    ndarray of shape (N, 3)
        NaN where there is no value.
    """
    expected = np.full((len(layout.patches), 3), np.nan)
    space = rgb_space("srgb")
    encoded = space.encode(np.clip(reference.xyz @ space.rgb_from_xyz.T, 0, 1))
    values = dict(zip(reference.ids, encoded, strict=True))
    for i, patch in enumerate(layout.patches):
        if patch.id in values:
            expected[i] = values[patch.id]
    return expected


def patch_samples(layout: Layout) -> FloatArray:
    """Give points spread over the inside of each patch, (N, K, 2), millimetres."""
    grid = (np.arange(SAMPLES) + 0.5) / SAMPLES - 0.5
    across, down = (part.ravel() * INNER + 0.5 for part in np.meshgrid(grid, grid))
    boxes = np.array([(p.x, p.y, p.width, p.height) for p in layout.patches])
    return np.stack(
        [boxes[:, :1] + boxes[:, 2:3] * across, boxes[:, 1:2] + boxes[:, 3:4] * down], axis=-1
    )


def sampled_rgb(small: FloatArray, px_from_mm: FloatArray, layout: Layout) -> FloatArray:
    """Read the patches in the small picture.

    Parameters
    ----------
    small : ndarray of float32, shape (H, W, 3)
        Encoded values.
    px_from_mm : ndarray of shape (2, 3)
        Pose in the small picture.
    layout : Layout
        The target.

    Returns
    -------
    ndarray of shape (N, 3)
        Medians; NaN where a patch's middle lies outside the picture.
    """
    rgb: FloatArray = np.median(_samples(small, px_from_mm, layout), axis=1)
    return rgb


def sampled_spread(small: FloatArray, px_from_mm: FloatArray, layout: Layout) -> FloatArray:
    """Say how uneven each patch is, as `sampled_rgb` says its colour; shape (N,)."""
    spread: FloatArray = _samples(small, px_from_mm, layout).std(axis=1).max(axis=1)
    return spread


def _samples(small: FloatArray, px_from_mm: FloatArray, layout: Layout) -> FloatArray:
    """Read `SAMPLES` squared points of each patch; NaN where some lie outside; (N, K, 3)."""
    import cv2

    points = patch_samples(layout)
    px = (points @ px_from_mm[:, :2].T + px_from_mm[:, 2]).astype(np.float32)
    x, y = np.ascontiguousarray(px[..., 0]), np.ascontiguousarray(px[..., 1])
    read = cv2.remap(small, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    values: FloatArray = np.asarray(read).astype(np.float64)
    low, high = px.min(axis=1), px.max(axis=1)
    outside = (low < -0.5).any(axis=1) | (high > np.array(small.shape[1::-1]) - 0.5).any(axis=1)
    values[outside] = np.nan
    return values


def linear_map(
    read: FloatArray, expected: FloatArray, *, bent: bool = False
) -> tuple[FloatArray, BoolArray]:
    """Fit what was read by a linear map of what is expected, the worst left out.

    In this direction a covered patch is far off in one residual only; the other way
    round its colour would be a lever on the whole fit.

    Parameters
    ----------
    read, expected : ndarray of shape (N, 3)
        Encoded values; rows with NaN are left out.
    bent : bool, optional
        Whether the map may follow a tone curve: squares are added to the terms.

    Returns
    -------
    residuals : ndarray of shape (N, 3)
        Read minus foretold; NaN where nothing can be said.
    kept : ndarray of bool, shape (N,)
        Rows that the fit rests on.
    """
    known = np.asarray(np.isfinite(read + expected).all(axis=1))
    kept = known.copy()
    squares = expected**2 if bent else expected[:, :0]
    terms = np.column_stack([expected, squares, np.ones(len(read))])
    residuals = np.full(read.shape, np.nan)
    for _ in range(ROUNDS):
        if kept.sum() < terms.shape[1] + 2:
            return residuals, np.zeros_like(kept)
        solution, *_ = np.linalg.lstsq(terms[kept], read[kept], rcond=None)
        residuals[known] = read[known] - terms[known] @ solution
        size = np.linalg.norm(residuals, axis=1)
        limit = np.quantile(size[known], 1 - DROPPED)
        kept = known & (size <= limit)
    return residuals, kept


def agreement(read: FloatArray, expected: FloatArray) -> tuple[float, float]:
    """Say how well colours agree, whatever the light, the gain and the primaries.

    Parameters
    ----------
    read, expected : ndarray of shape (N, 3)
        Encoded values.

    Returns
    -------
    grey, chroma : float
        Shares of the variance explained, the smaller of the two for chroma; 0 if
        fewer than half of the patches can be read, or all have one colour.
    """
    residuals, kept = linear_map(read, expected)
    if kept.sum() < max(6, 0.5 * (1 - DROPPED) * len(read)):
        return 0.0, 0.0
    left = residuals[kept] @ AXES.T
    spread = (read[kept] @ AXES.T).std(axis=0)
    # The fit's own freedom explains some of anything: count it off.
    fair = (len(left) - 1) / (len(left) - TERMS - 1)
    share = 1 - fair * (left**2).mean(axis=0) / np.maximum(spread, LEAST_SPREAD) ** 2
    # A grey target says nothing of chroma.
    plain = (expected[kept] @ AXES.T).std(axis=0) < PLAIN
    share = np.where(spread < LEAST_SPREAD, 0.0, np.where(plain, 1.0, share))
    return float(share[0]), float(share[1:].min())


def agrees(read: FloatArray, expected: FloatArray) -> bool:
    """Tell whether the colours are those of the target."""
    grey, chroma = agreement(read, expected)
    return grey >= LEAST_GREY and chroma >= LEAST_CHROMA


def expectations(
    layouts: tuple[Layout, ...], references: Mapping[str, Reference]
) -> dict[str, FloatArray]:
    """Give the expected colours of each layout, by its name.

    Raises
    ------
    ValueError
        If a layout has no reference: nothing could then tell it from a painting.
    """
    missing = [layout.name for layout in layouts if layout.name not in references]
    if missing:
        raise ValueError(f"no reference values for the layout {missing[0]}")
    return {layout.name: expected_rgb(layout, references[layout.name]) for layout in layouts}
