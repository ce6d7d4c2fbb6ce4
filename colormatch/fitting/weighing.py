"""How much each patch's error counts: the eye's metric, the ink, the reading, the robust weight."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from colormatch.fitting.misses import whitening
from colormatch.fitting.readings import TileReadings
from colormatch.model import FloatArray


def weighted_roots(
    tiles: Sequence[TileReadings], weights: Sequence[FloatArray], model_error: float
) -> FloatArray:
    """Give what turns XYZ errors of all tiles' patches into errors in units of their own sigma.

    What an ink makes the matrix miss it misses in all tiles alike, so that seeing the
    patch in several tells no more of it: together they count as one patch.

    Returns
    -------
    ndarray of shape (M, 3, 3)
        The tiles' patches one after the other.
    """
    seen = Counter(name for tile in tiles for name in tile.ids)
    result: list[FloatArray] = []
    for tile, weight in zip(tiles, weights, strict=True):
        roots = tile.roots
        # A relative error of the reading moves the colour along its own ray.
        moved = np.einsum("nij,nj->ni", roots, tile.xyz) * tile.noise[:, None]
        read = np.sum(moved**2, axis=1)
        if tile.doubt is not None:
            read = read + tile.doubt**2
        times = np.array([seen[name] for name in tile.ids])[:, None, None]
        missed = times * model_error**2 * tile.missed
        white = whitening(missed + read[:, None, None] * np.eye(3))
        result.append(white @ roots * np.sqrt(weight)[:, None, None])
    return np.concatenate(result)


def likely_roots(tile: TileReadings) -> FloatArray:
    """Give what turns XYZ errors (N, 3) into units of what each patch is likely to be off."""
    result: FloatArray = whitening(tile.missed) @ tile.roots
    return result
