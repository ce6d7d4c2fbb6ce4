"""Pixels per inch, as the three formats state it."""

from __future__ import annotations

import math

PER_INCH = {2: 1.0, 3: 2.54}
"""Resolution unit of TIFF 6.0, tag 296, and of Exif: 2 inch, 3 centimetre."""

LARGEST = 1e5
"""Pixels per inch that no scanner reaches: more is a damaged tag."""


def resolution(
    x: float, y: float, per_inch: float | None
) -> tuple[tuple[float, float] | None, tuple[str, ...]]:
    """Turn a stated resolution into pixels per inch.

    Parameters
    ----------
    x, y : float
        Pixels per unit along x and y.
    per_inch : float or None
        Units per inch; None if the file gives no unit (a ratio only).

    Returns
    -------
    ppi : tuple of float or None
        None where the file does not say: no unit, or the 1 x 1 that stands
        for "not known".
    notes : tuple of str
        Set when the two directions differ by more than half a percent.
    """
    if per_inch is None:
        return None, ()
    ppi = x * per_inch, y * per_inch
    if not all(math.isfinite(value) and per_inch < value < LARGEST for value in ppi):
        return None, ()
    if abs(ppi[0] - ppi[1]) > 0.005 * max(ppi):
        return ppi, (f"its resolution differs: {ppi[0]:.6g} ppi across, {ppi[1]:.6g} ppi down",)
    return ppi, ()
