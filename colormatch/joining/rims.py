"""The picture's outermost two millimetres, where an edge leaves bare places."""

from __future__ import annotations

import numpy as np

from colormatch.joining.records import UNCOVERED, LabelArray

RIM = 2.0
"""How far from the picture's edge such places are filled, and from how far away, mm."""


def rim_filled(labels: LabelArray, pixel: float) -> tuple[LabelArray, float]:
    """Give places at the rim that nobody shows to the tile that is shown beside them.

    A painting's edge is never quite straight, and what is painted is known to a
    grid pixel only. White nicks would be worse in print than what the scan shows there.

    Parameters
    ----------
    labels : ndarray of uint8, shape (height, width)
        Tile of each grid pixel, `UNCOVERED` where none is.
    pixel : float
        Side of a grid pixel, mm.

    Returns
    -------
    labels : ndarray of uint8
        As given, with the rim filled.
    share : float
        Part of the grid that was filled, 0 to 1.
    """
    import cv2

    bare = labels == UNCOVERED
    wide = max(1, round(RIM / pixel))
    rim = np.ones(labels.shape, bool)
    rim[wide:-wide, wide:-wide] = False
    if bare.all() or not (bare & rim).any():
        return labels, 0.0
    distance, nearest = cv2.distanceTransformWithLabels(
        bare.astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    shown = np.asarray(nearest)[~bare]
    tile_of = np.full(int(shown.max()) + 1, UNCOVERED, np.uint8)
    tile_of[shown] = labels[~bare]
    filled = bare & rim & (np.asarray(distance) <= wide + 0.5)
    return np.where(filled, tile_of[nearest], labels).astype(np.uint8), float(filled.mean())
