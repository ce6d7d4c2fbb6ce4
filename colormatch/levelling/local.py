"""Local differences of two tiles: shadows, lifted places, dust; left out with their rims.

The lamp and the carriage change the light slowly; contact shadows reach 2 to
20 mm. So what departs from the stiff terms, or from its own wide surroundings,
is local and no light of the scanner's.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.levelling.records import PairSamples
from colormatch.levelling.robust import Block, Fit
from colormatch.model import FloatArray

FAR = 3.5
"""Departure in scales that is called local."""
LEAST_FROM_MODEL = 0.03
LEAST_FROM_SURROUNDINGS = 0.015
"""Smaller departures, log light, are left to the biweight."""
SURROUNDINGS = 11
"""Cells across in which the surroundings' median is taken, about 45 mm."""
RIM = 2
"""Cells round a local difference that are left out with it, about 8 mm."""
LEAST_LEFT = 0.1
"""Where less than this share of an overlap would be left, the rim is made narrower."""
SPECK = 3
"""A difference of fewer cells is left out alone, without a rim."""


def local_differences(
    pair: PairSamples, block: Block, first: Fit, scale: float
) -> NDArray[np.bool_]:
    """Tell which samples of an overlap show the same paint in the same light.

    Parameters
    ----------
    pair : PairSamples
        The samples.
    block : Block
        Their equations.
    first : Fit
        A solution without smooth fields.
    scale : float
        Size of what it leaves at places that agree, in units of their sigma.

    Returns
    -------
    ndarray of bool, shape (N,)
        False at local differences and round them.
    """
    from scipy.ndimage import binary_dilation

    left = block.remaining(first.unknowns)
    limit = FAR * scale * block.sigma
    low = pair.cells.min(axis=0)
    rows, columns = (pair.cells - low).T
    shape = (int(rows.max()) + 1, int(columns.max()) + 1)
    apart = np.linalg.norm(left, axis=1) > np.maximum(limit, LEAST_FROM_MODEL)
    surroundings = _surroundings(left, rows, columns, shape, ~apart)
    apart |= np.linalg.norm(left - surroundings, axis=1) > np.maximum(
        limit, LEAST_FROM_SURROUNDINGS
    )
    flagged = np.zeros(shape, dtype=bool)
    flagged[rows, columns] = apart
    for rim in (RIM, RIM // 2):
        grown = binary_dilation(_patches(flagged), iterations=rim) | flagged
        trusted = ~grown[rows, columns]
        if trusted.mean() >= LEAST_LEFT:
            return np.asarray(trusted)
    return np.asarray(~apart)


def _patches(flagged: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Drop specks: connected differences of few cells."""
    from scipy.ndimage import label

    labels, count = label(flagged, structure=np.ones((3, 3)))
    if count == 0:
        return flagged
    sizes = np.bincount(labels.ravel())
    sizes[0] = 0
    return np.asarray(sizes[labels] >= SPECK)


def _surroundings(
    left: FloatArray,
    rows: NDArray[np.intp],
    columns: NDArray[np.intp],
    shape: tuple[int, int],
    clear: NDArray[np.bool_],
) -> FloatArray:
    """Median of what is left in the clear wide surroundings of each sample, (N, 3)."""
    from scipy.ndimage import distance_transform_edt, median_filter

    missing = np.ones(shape, dtype=bool)
    missing[rows, columns] = ~clear if clear.any() else False
    near = distance_transform_edt(missing, return_distances=False, return_indices=True)
    size = tuple(min(SURROUNDINGS, n) for n in shape)
    result = np.empty_like(left)
    for part in range(left.shape[1]):
        grid = np.zeros(shape)
        grid[rows, columns] = left[:, part]
        filled = grid[near[0], near[1]]
        result[:, part] = median_filter(filled, size=size, mode="nearest")[rows, columns]
    return result
