"""Both ends of the scale used up, as by a driver that stretches each scan's tones by itself.

Such levels put the darkest and the lightest thing on the glass at the ends of the scale,
in red, green and blue alike. With fixed settings the scale ends above a perfect white and
below the darkest paint, and three channels do not reach their ends together.
"""

from __future__ import annotations

import numpy as np

from colormatch.inspecting.records import Noticed
from colormatch.model import FloatArray, Survey

RARE = 0.0005
"""Share of the scan left out at both ends, half of what stretching usually leaves out: about
a thousandth (common practice, no source)."""
LIMIT = 98.0
"""Percent of the scale between the ends, in the channel that uses least: 1 % of room each."""
WHITEST = 1.03
"""Reflectance at the top of the scale up to which it may be the lightest thing's: fixed
settings leave room above a perfect white."""
EVERY = 3
"""Blocks down and across of which one is looked at."""


def range_used(survey: Survey, paper: FloatArray, reflectance: float, power: float) -> Noticed:
    """Measure how much of the scale the scan's tones use.

    Parameters
    ----------
    survey : Survey
        Of the scan.
    paper : ndarray of shape (3,)
        The strip's bare paper, encoded.
    reflectance : float
        Its luminance factor, 0 to 1.
    power : float
        Of the scan's tone curve.

    Returns
    -------
    Noticed
        Percent of the scale between the scan's darkest and lightest tones, in the channel
        that uses least; 0 where the strip's paper says that the scale ends above white.
    """
    at_top = reflectance / float(np.mean(np.maximum(paper, 0.05))) ** power
    if at_top > WHITEST:
        return Noticed(measure=0.0, limit=LIMIT)
    tones = survey.small[::EVERY, ::EVERY].reshape(-1, 3)
    dark, light = np.quantile(tones, [RARE, 1 - RARE], axis=0)
    return Noticed(measure=100 * float((light - dark).min()), limit=LIMIT)
