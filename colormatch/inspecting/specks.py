"""Specks: reflections of the lamp on the paint, dust and hairs on the glass.

The mean of a block hides them; its lightest and darkest pixels do not. Paint
sends back less than a perfect white, so that what outshines the strip's bare
paper on darker ground is a reflection. Dust is told where nothing is painted,
as a painter's dots are as small.
"""

from __future__ import annotations

import numpy as np

from colormatch.inspecting.areas import Areas, Mask, Pitch, areas, gathered, widened
from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray, Survey

OUTSHINES = 1.12
"""Light of a reflection over that of the strip's paper: the whitest paints reach 1.06."""
DARKER_GROUND = 0.6
"""Light of the ground over the paper's below which a reflection can be told from white."""
GLARE_LIMIT = 3.3
"""Specks per dm² from which they are worth a word: 20 on a picture of the size of an A4
glass (common practice, no source). Only those that outshine paper are counted, a third or
less of all, as most are smaller than a pixel."""
DUST_LIMIT = 15.0
"""Specks and hairs per dm² from which a glass is called dirty: a wiped one has below 6."""
SMALL_MM = 1.6
"""A speck's greatest size."""
HAIR_MM = 20.0
"""A hair's greatest size; what is longer is a thread or a sheet's edge."""
CLEAR_MM = 3.0
"""Distance from paint and strip that bare glass, lid and paper are looked at."""
LEAST_BARE_CM2 = 12.0
"""Bare area below which dust cannot be counted."""
DIP = 0.06
"""Share of light, at least, by which a speck differs from its ground."""
TIMES = 4.5
"""And how many times the usual unevenness there: of blocks full of noise, one in ten thousand
reaches it."""
SEEN = 0.1
"""Encoded value below which noise is all there is."""
USUAL = 9
"""Side of the neighbourhood, blocks, that tells what is usual."""
RIM = 7
"""Side of the neighbourhood, blocks, in which a step is looked for."""
STEP = 0.03
"""Share of light by which the ground of specks may change there."""
WORTH_DRAWING = 12


def glare(survey: Survey, painting: Mask, paper: FloatArray, power: float, pitch: Pitch) -> Noticed:
    """Count reflections on the painting.

    Parameters
    ----------
    survey : Survey
        Of the scan.
    painting : ndarray of bool, shape (h, w)
        Blocks that show the painting.
    paper : ndarray of shape (3,)
        The strip's bare paper, encoded.
    power : float
        Of the scan's tone curve.
    pitch : tuple of float
        Width and height of a block, mm.

    Returns
    -------
    Noticed
        Specks per dm² of painting.
    """
    top = float(np.iinfo(survey.lightest.dtype).max)
    bright = paper * OUTSHINES ** (1 / power) * top
    if bright.min() > top:
        # The scan has no room above white: reflections look like white paint.
        return Noticed(measure=0.0, limit=GLARE_LIMIT)
    shining = (survey.lightest >= bright).all(axis=2) & painting
    if not shining.any():
        return Noticed(measure=0.0, limit=GLARE_LIMIT)
    ground = _ground(survey.small.min(axis=2))
    shining &= ground**power < DARKER_GROUND * float(paper.min()) ** power
    specks = _no_larger(areas(shining), SMALL_MM, pitch)
    return _per_dm2(specks, painting, GLARE_LIMIT, pitch)


def _ground(values: FloatArray) -> FloatArray:
    """Give what lies round every block: the median of 5×5."""
    import cv2

    return np.asarray(cv2.medianBlur(np.ascontiguousarray(values, dtype=np.float32), 5))


def dust(survey: Survey, painting: Mask, strip: Mask, power: float, pitch: Pitch) -> Noticed | None:
    """Count specks and hairs on bare glass, lid and paper.

    Parameters
    ----------
    survey : Survey
        Of the scan.
    painting, strip : ndarray of bool, shape (h, w)
        Blocks that show the painting, and the strips.
    power : float
        Of the scan's tone curve.
    pitch : tuple of float
        Width and height of a block, mm.

    Returns
    -------
    Noticed or None
        Specks and hairs per dm²; None where too little is bare.
    """
    bare = ~widened(painting | strip, CLEAR_MM / min(pitch))
    off = _farthest(survey, power)
    usual = _blurred(off)
    spread = np.sqrt(np.maximum(_blurred(off * off) - usual * usual, 0.0))
    # The median, because a speck raises what is usual round itself.
    around = _ground(off)
    plain = bare & (around < DIP) & ~_steps(survey, power) & (survey.small[..., 1] > SEEN)
    if plain.sum() * pitch[0] * pitch[1] < LEAST_BARE_CM2 * 100:
        return None
    marked = plain & (off > np.maximum(TIMES * around, DIP)) & (off > usual + spread)
    specks = _no_larger(areas(marked), HAIR_MM, pitch)
    return _per_dm2(specks, plain, DUST_LIMIT, pitch)


def _steps(survey: Survey, power: float) -> Mask:
    """Find where one tone meets another, as at a sheet's rim, whatever specks lie there."""
    import cv2

    light = _ground(np.log(np.maximum(survey.small[..., 1], 0.02)) * power)
    kernel = np.ones((RIM, RIM), np.uint8)
    return np.asarray(cv2.dilate(light, kernel) - cv2.erode(light, kernel) > STEP)


def _farthest(survey: Survey, power: float) -> FloatArray:
    """Give how far each block's oddest pixel is from its mean, as a share of light."""
    top = np.float32(1 / np.iinfo(survey.darkest.dtype).max)
    mean = survey.small[..., 1]
    down = mean - survey.darkest[..., 1] * top
    up = survey.lightest[..., 1] * top - mean
    return np.asarray(np.float32(power) * np.maximum(down, up) / np.maximum(mean, 0.05))


def _blurred(values: FloatArray) -> FloatArray:
    import cv2

    return np.asarray(cv2.blur(values, (USUAL, USUAL)))


def _no_larger(found: Areas, size_mm: float, pitch: Pitch) -> Areas:
    longer = np.maximum(found.boxes[:, 2] * pitch[0], found.boxes[:, 3] * pitch[1])
    return found.keep(longer <= size_mm)


def _per_dm2(specks: Areas, where: Mask, limit: float, pitch: Pitch) -> Noticed:
    area = float(where.sum()) * pitch[0] * pitch[1] / 1e4
    count = len(specks.sizes)
    together = gathered(specks, 8.0 / min(pitch)) if count else specks
    return Noticed(
        # Few specks are left to chance: one standard deviation of the count is taken off.
        measure=max(count - count**0.5, 0.0) / max(area, 1e-9),
        limit=limit,
        places=together.places(pitch, WORTH_DRAWING),
        count=count,
    )
