"""What an inspection found."""

from __future__ import annotations

from dataclasses import dataclass

Box = tuple[float, float, float, float]
"""x, y, width, height in millimetres from the scan's top left corner."""


@dataclass(frozen=True, kw_only=True)
class Noticed:
    """One thing measured in one scan.

    Attributes
    ----------
    measure : float
        In the unit that the function which gives it states.
    limit : float
        From which it is worth a word.
    places : tuple of Box
        Where, gravest first; empty if everywhere.
    count : int
        How many places there are in all; more than are given.
    """

    measure: float
    limit: float
    places: tuple[Box, ...] = ()
    count: int = 0

    @property
    def beyond(self) -> bool:
        """Whether the limit is passed."""
        return self.measure > self.limit


@dataclass(frozen=True, kw_only=True)
class Inspected:
    """All that was measured in one scan; None where it could not be.

    Attributes
    ----------
    clipped, blocked : Noticed
        Percent of the painting lost in the lights, and in the shadows.
    halo : Noticed or None
        Percent by which the strip's edges overshoot.
    noise : Noticed or None
        Standard deviation of L* at mid grey, an upper bound.
    streaks, banding : Noticed
        Percent of light.
    glare : Noticed
        Specks per dm² of painting.
    dust : Noticed or None
        Specks and hairs per dm² of bare glass, lid and paper.
    bits : int
        Per channel, that the file really holds.
    dark_step : Noticed
        L* from one code to the next in the darks.
    quality : float or None
        Of a JPEG, 1 to 100.
    blocks : Noticed or None
        How much the borders of compressed blocks stand out, as a share.
    bend : Noticed or None
        Millimetres by which the strip's patches leave a straight line.
    lifted : Noticed
        Blur toward a side of the painting, mm, standard deviation.
    range_used : Noticed
        Percent of the scale that the scan's tones use.
    """

    clipped: Noticed
    blocked: Noticed
    halo: Noticed | None
    noise: Noticed | None
    streaks: Noticed
    banding: Noticed
    glare: Noticed
    dust: Noticed | None
    bits: int
    dark_step: Noticed
    quality: float | None
    blocks: Noticed | None
    bend: Noticed | None
    lifted: Noticed
    range_used: Noticed
