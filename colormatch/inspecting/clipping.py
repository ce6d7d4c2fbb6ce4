"""Lights and shadows at the end of the scale: tones that no correction brings back."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.inspecting.areas import Areas, Mask, Pitch, areas, gathered
from colormatch.inspecting.records import Noticed
from colormatch.model import Survey

NEAR_TOP = 0.985
"""Mean of a block, encoded, from which pixels at the top are more than a glint in it."""
NEAR_BOTTOM = 0.03
"""The same for black: half the noise of an ordinary scanner lies below it."""
LEAST_MM2 = 4.0
"""An area smaller than this is a glint, a speck or a pinhole, not lost drawing."""
LIMIT = 0.1
"""Percent of the painting, about 3 cm² of an A4, from which the loss is worth a word
(common practice, no source)."""
GAP_MM = 6.0
"""Areas nearer to one another than this are drawn as one."""


def clipped_lights(survey: Survey, painting: Mask, pitch: Pitch) -> Noticed:
    """Measure where the painting is lighter than the scan can tell.

    Parameters
    ----------
    survey : Survey
        Of the scan.
    painting : ndarray of bool, shape (h, w)
        Blocks that show the painting.
    pitch : tuple of float
        Width and height of a block, mm.

    Returns
    -------
    Noticed
        Percent of the painting's area in which at least one channel is at its
        highest code, single glints left out.
    """
    top = np.iinfo(survey.lightest.dtype).max
    ended = (survey.lightest == top) & (survey.small > NEAR_TOP)
    return _lost(_any_channel(ended), painting, pitch)


def blocked_shadows(survey: Survey, painting: Mask, pitch: Pitch) -> Noticed:
    """Measure where the painting is darker than the scan can tell; as `clipped_lights`."""
    ended = (survey.darkest == 0) & (survey.small < NEAR_BOTTOM)
    return _lost(_any_channel(ended), painting, pitch)


def _any_channel(ended: NDArray[np.bool_]) -> Mask:
    # Twice as fast as any(axis=2) on so short an axis.
    return np.asarray(ended[..., 0] | ended[..., 1] | ended[..., 2])


def _lost(ended: Mask, painting: Mask, pitch: Pitch) -> Noticed:
    found = _large(areas(ended & painting), pitch)
    share = 100.0 * float(found.sizes.sum()) / max(int(painting.sum()), 1)
    together = gathered(found, GAP_MM / min(pitch)) if len(found.sizes) else found
    return Noticed(
        measure=share, limit=LIMIT, places=together.places(pitch), count=len(together.sizes)
    )


def _large(found: Areas, pitch: Pitch) -> Areas:
    return found.keep(found.sizes * pitch[0] * pitch[1] >= LEAST_MM2)
