"""What a change is put down to, and when the log cannot tell.

A lamp changes the light of all patches alike; a dye loses density where it was
printed; paper that turns yellow takes away blue everywhere, which looks like a lamp
until another strip on the same scanner, or the same strip on another one, is read.
"""

from __future__ import annotations

from collections.abc import Sequence

from colormatch.drifts import (
    INKS,
    LIGHTS,
    UNEVEN,
    Cause,
    Quantity,
    Series,
    Statement,
    Trend,
)
from colormatch.tracking import wording
from colormatch.tracking.witnesses import carried_over, overlapping, shared

LAMP_IN_INKS = 0.35
"""Of what a lamp's colours drift apart, the most that may look like an ink: measured on
simulated lamps, whose emitters shift within the scanner's channels (0.23 at most)."""
INKS_IN_LIGHT = 0.25
"""Of what an ink lost, the most that may look like light: light neutrals hold some ink
(0.15 at most in the same simulations)."""
TONE_IN_LIGHT = 0.8
"""The same for a change of all tones: 0.63 for a tone curve."""
UNLIKE = 0.5
"""Of the largest ink, by which inks must differ to be called unevenly faded."""
ALSO_FADED = 0.4
"""Of the most faded ink, from which another is named with it."""
YELLOW_RED = 0.35
"""Red may change by this share of blue's change in paper that turns yellow."""


def statements_of(series: Sequence[Series]) -> tuple[Statement, ...]:
    """Say of every series what changed and what it is put down to."""
    found: list[Statement] = []
    for one in series:
        others = [other for other in series if other is not one]
        found += _said(one, others)
    return tuple(found)


def _said(one: Series, others: Sequence[Series]) -> list[Statement]:
    if not one.trends:
        return [_statement(one, Cause.TOO_FEW, True, wording.too_few(one))]
    parts = [_of_strip(one, others), _of_light(one, others)]
    found = [part for part in parts if part is not None]
    return found or [_statement(one, Cause.STEADY, True, wording.steady(one))]


def _statement(one: Series, cause: Cause, told: bool, words: tuple[str, str]) -> Statement:
    return Statement(
        scanner=one.scanner,
        strip=one.strip,
        reference_key=one.reference_key,
        cause=cause,
        told=told,
        text=words[0],
        next_step=words[1],
    )


def changes(one: Series, quantities: Sequence[Quantity]) -> dict[Quantity, float]:
    """Give the change of some quantities from the first to the last day, percent."""
    return {q: one.trends[q].change for q in quantities if q in one.trends}


def ink_floor(one: Series) -> float:
    """Give the change of an ink that a lamp could have made, percent of density."""
    light = changes(one, LIGHTS).values()
    return LAMP_IN_INKS * (max(light) - min(light)) if light else 0.0


def light_floor(one: Series) -> float:
    """Give the change of light that inks or tones could have made, percent."""
    moved = {q: abs(trend.change) for q, trend in _strip_moved(one).items()}
    tone = moved.pop(Quantity.TONE, 0.0)
    return max(INKS_IN_LIGHT * max(moved.values(), default=0.0), TONE_IN_LIGHT * tone)


def _moved(one: Series, quantities: Sequence[Quantity], floor: float) -> dict[Quantity, Trend]:
    """Give what changed by more than ``floor``, all of its interval."""
    trends = {q: one.trends[q] for q in quantities if q in one.trends}
    return {q: t for q, t in trends.items() if t.changed and _least(t) > floor}


def _least(trend: Trend) -> float:
    """Give the smaller end of a change's interval; of a step, the step."""
    if trend.jump is not None or trend.slope == 0:
        return abs(trend.change)
    return abs(trend.change / trend.slope) * min(abs(trend.low), abs(trend.high))


def _strip_moved(one: Series) -> dict[Quantity, Trend]:
    return _moved(one, (*INKS, Quantity.TONE), ink_floor(one))


def uneven(one: Series) -> bool:
    """Tell whether the inks went different ways, as inks do and tone curves do not."""
    apart = _moved(one, tuple(UNEVEN.values()), ink_floor(one))
    largest = max((abs(v) for v in changes(one, INKS).values()), default=0.0)
    return any(abs(trend.change) > UNLIKE * largest for trend in apart.values())


def _of_strip(one: Series, others: Sequence[Series]) -> Statement | None:
    moved = _strip_moved(one)
    if not moved:
        return None
    leading = max(moved, key=lambda q: abs(moved[q].change))
    faded = {q: t for q, t in moved.items() if q in INKS and t.change > 0}
    if not uneven(one):
        return _of_tones(one, others, leading)
    if moved[leading].jump is not None:
        words = wording.other_print(moved[leading])
        return _statement(one, Cause.OTHER_PRINT, False, words)
    if not faded:
        return _of_dark(one, moved)
    most = max(t.change for t in faded.values())
    named = {q: t for q, t in faded.items() if t.change > ALSO_FADED * most}
    witness = _witness(one, others, _clearest(one))
    if witness is False:
        return _statement(one, Cause.COLOURS, True, wording.colours(one, named, others))
    return _statement(one, Cause.INK, True, wording.inks(one, named, witness))


def _clearest(one: Series) -> Quantity:
    """Give the difference of two inks that changed most."""
    apart = changes(one, tuple(UNEVEN.values()))
    return max(apart, key=lambda q: abs(apart[q]))


def _witness(one: Series, others: Sequence[Series], quantity: Quantity) -> bool | None:
    """Tell by another strip on the same scanner, or another scanner, if it is the strip.

    True: the change keeps to this strip. False: it keeps to this scanner. None: the
    log does not tell.
    """
    beside = [shared(one, o, quantity) for o in others if o.scanner == one.scanner]
    elsewhere = [
        shared(one, o, quantity)
        for o in others
        if (o.strip, o.reference_key) == (one.strip, one.reference_key)
    ]
    for_strip = beside.count(False) + elsewhere.count(True)
    for_scanner = beside.count(True) + elsewhere.count(False)
    if for_strip == for_scanner:
        return None
    return for_strip > for_scanner


def _of_dark(one: Series, moved: dict[Quantity, Trend]) -> Statement:
    """Only the tones that all channels share went up, or inks became denser."""
    tone = moved.get(Quantity.TONE)
    if tone is not None and tone.change > 0:
        return _statement(one, Cause.TONE, False, wording.black(one, tone))
    return _statement(one, Cause.INK_OR_COLOURS, False, wording.denser(one, moved))


def _of_tones(one: Series, others: Sequence[Series], leading: Quantity) -> Statement:
    """All inks, and perhaps all greys, went the same way."""
    trend = one.trends[leading]
    tone = one.trends[Quantity.TONE]
    if trend.jump is not None:
        return _statement(one, Cause.SETTINGS, True, wording.tone_jump(trend))
    if not tone.changed or abs(tone.change) < YELLOW_RED * abs(trend.change):
        return _statement(one, Cause.INK_OR_COLOURS, False, wording.saturation(one, trend))
    witness = _witness(one, others, Quantity.TONE)
    if witness is True:
        return _statement(one, Cause.INK, True, wording.all_inks(one, trend))
    if witness is False:
        return _statement(one, Cause.SETTINGS, True, wording.tone_curve(one, trend))
    return _statement(one, Cause.TONE, False, wording.tones(one, trend))


def _of_light(one: Series, others: Sequence[Series]) -> Statement | None:
    # Blue over red is known better than either: what both share drops out.
    moved = _moved(one, (*LIGHTS, Quantity.BLUE_OVER_RED), light_floor(one))
    if not moved:
        return None
    leading = max(moved, key=lambda q: abs(moved[q].change))
    if moved[leading].jump is not None:
        return _statement(one, Cause.SETTINGS, True, wording.light_jump(one, moved[leading]))
    if no_paper_does(one):
        return _statement(one, Cause.LAMP, True, wording.lamp(one, None))
    ratio = Quantity.BLUE_OVER_RED
    witness = _witness(one, others, ratio if one.trends[ratio].changed else leading)
    succession = _succession(one, others)
    if witness is None:
        witness = succession
    if witness is True:
        return _statement(one, Cause.PAPER, True, wording.paper(one))
    if witness is False:
        return _statement(
            one,
            Cause.LAMP,
            True,
            wording.lamp(one, "other readings in the log show that it is not the strip"),
        )
    alone = not any(overlapping(one, other) for other in others)
    return _statement(one, Cause.LAMP_OR_PAPER, False, wording.lamp_or_paper(one, alone))


def no_paper_does(one: Series) -> bool:
    """Tell whether the light changed as ageing paper cannot change it.

    Paper that ages loses blue and next to no red. Where red was lost too, or blue was
    gained, beyond chance, it is the lamp.
    """
    red, blue = one.trends[Quantity.LIGHT_RED], one.trends[Quantity.LIGHT_BLUE]
    apart = one.trends[Quantity.BLUE_OVER_RED]
    if (apart.changed and apart.change > 0) or (blue.changed and blue.change > 0):
        return True
    return red.changed and abs(red.change) > YELLOW_RED * abs(blue.change)


def _succession(one: Series, others: Sequence[Series]) -> bool | None:
    """Tell by the strip that came after this one on the same scanner, if any did."""
    answers = [carried_over(one, other) for other in others if other.scanner == one.scanner]
    given = [answer for answer in answers if answer is not None]
    # Carried over to another strip: it is the scanner. Not: it is this strip.
    return None if not given or len(set(given)) > 1 else not given[0]
