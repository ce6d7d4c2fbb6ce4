"""What is said of a change, and what to do next, for someone who runs a scanner."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from colormatch.drifts import LIGHTS, Quantity, Series, Trend
from colormatch.tracking.trends import FEWEST_DAYS, SHORTEST_DAYS

Words = tuple[str, str]
"""What changed, and what to do."""

NEW_STRIP = "have this strip measured again and give its new values, or print and measure a new one"
SECOND = (
    "to tell, measure a second strip, keep it in the dark, and scan it with --log once a month "
    "beside this one"
)
SERVICE = (
    "nothing to correct: every scan is fitted to its own strip; warm the lamp up, clean the glass "
    "as the maker allows, and ask the maker about the lamp if this goes on"
)


def too_few(one: Series) -> Words:
    """Say that there are too few days."""
    days, span = len(one.days), _span(one)
    return (
        f"too few days to tell a trend from chance: {_count(days, 'day')} within "
        f"{_count(span, 'day')}; it takes {FEWEST_DAYS} days within {SHORTEST_DAYS} or more",
        "scan the strip with --log every few days, or once a month",
    )


def steady(one: Series) -> Words:
    """Say that nothing changed."""
    widest = max(abs(one.trends[q].change) for q in LIGHTS if q in one.trends)
    return (
        f"no change beyond chance {_since(one)}: light within {widest:.1f} %, no ink lost "
        "density that could be seen",
        "nothing to do",
    )


def inks(one: Series, faded: Mapping[Quantity, Trend], witness: bool | None) -> Words:
    """Name the inks that fade."""
    names = _names(list(faded))
    lost = ", ".join(f"{q.value} about {percent(t)} %" for q, t in faded.items())
    proof = (
        "another strip or scanner read over the same time confirms that it is this strip"
        if witness
        else "paper and the other inks hold, which no lamp and no tone curve explains"
    )
    return f"the strip fades: it lost density {_since(one)}, {lost} ({names}); {proof}", NEW_STRIP


def all_inks(one: Series, trend: Trend) -> Words:
    """Say that all inks fade alike, as another strip does not show it."""
    return (
        f"the strip fades: all inks and the black lost about {percent(trend)} % of their density "
        f"{_since(one)}; another strip read over the same time on the same scanner does not show "
        "it",
        NEW_STRIP,
    )


def black(one: Series, trend: Trend) -> Words:
    """Say that dark greys became lighter."""
    return (
        f"the greys and blacks became lighter by about {percent(trend)} % of their density "
        f"{_since(one)} while the bright inks did not: the black ink fades, or more light is "
        "scattered into dark places; the log cannot tell which",
        f"clean the glass as the maker allows and look again; if it stays, {NEW_STRIP}",
    )


def denser(one: Series, moved: Mapping[Quantity, Trend]) -> Words:
    """Say that inks seem to have become denser."""
    names = _names([q for q in moved if q is not Quantity.TONE])
    return (
        f"the strip reads denser {_since(one)} ({names}): inks do not gain density but while they "
        "dry; the scanner's colours changed, or another print was laid down under this name; the "
        "log cannot tell which",
        f"check the driver's colour settings and which print is in use; {SECOND}",
    )


def saturation(one: Series, trend: Trend) -> Words:
    """Say that all colours became paler or stronger while greys held."""
    return (
        f"all colours changed by about {percent(trend)} % of their density {_since(one)} while "
        "the greys held: the driver's colour setting, or all three inks; the log cannot tell which",
        f"check that the driver's colour corrections are off; {SECOND}",
    )


def tones(one: Series, trend: Trend) -> Words:
    """Say that all tones changed alike, which has two explanations."""
    return (
        f"all tones changed by about {percent(trend)} % of their density {_since(one)}, greys and "
        "colours alike: the driver's tone curve changed little by little, or all inks fade "
        "together; with this strip alone the log cannot tell which",
        SECOND,
    )


def tone_curve(one: Series, trend: Trend) -> Words:
    """Say that the scanner's tones changed, as another strip shows it too."""
    return (
        f"the scanner's tones changed by about {percent(trend)} % of their density {_since(one)}: "
        "another strip on it shows it too",
        "check the driver's settings: tone curve and automatic corrections off",
    )


def tone_jump(trend: Trend) -> Words:
    """Say that all tones changed at once."""
    return (
        f"all tones changed at once, {_between(trend)}, by about {percent(trend)} % of their "
        "density: the driver's tone curve or its corrections were set otherwise, as inks do not "
        "fade in a day",
        "scan with one saved setting of the driver, automatic corrections off",
    )


def other_print(trend: Trend) -> Words:
    """Say that the inks changed at once."""
    return (
        f"the strip's inks changed at once, {_between(trend)}: another print was laid down under "
        "the same values, or the driver's colours were set otherwise; inks do not fade in a day",
        "give every print its own measured values (--reference) or its own name (--strip)",
    )


def colours(one: Series, named: Mapping[Quantity, Trend], others: Sequence[Series]) -> Words:
    """Say that the scanner's colours changed, not the strip."""
    seen = ", ".join(f"{q.value} {percent(t)} %" for q, t in named.items())
    beside = any(other.scanner == one.scanner for other in others)
    proof = "another strip on it shows it too" if beside else "another scanner does not show it"
    return (
        f"the scanner's colours changed {_since(one)} ({seen} of their density): {proof}",
        "check the driver's colour settings, then ask the maker about lamp and filters",
    )


def lamp(one: Series, proof: str | None) -> Words:
    """Say that the light changed."""
    light = _light(one)
    why = proof or "it changed as no paper does that ages: paper turns yellow"
    return (
        f"the scanner's light changed {_since(one)}: {light}; the lamp ages, the glass is dirty, "
        f"or the exposure was set otherwise little by little ({why})",
        SERVICE,
    )


def paper(one: Series) -> Words:
    """Say that the strip's paper turns yellow."""
    return (
        f"the strip's paper turns yellow: it lost blue {_since(one)} ({_light(one)}), and other "
        "readings show that it is not the lamp",
        NEW_STRIP + "; keep it in the dark",
    )


def lamp_or_paper(one: Series, alone: bool) -> Words:
    """Say that lamp and paper cannot be told apart."""
    why = (
        "one strip on one scanner cannot tell which"
        if alone
        else "the other readings in the log are too few or too uncertain to tell which"
    )
    return (
        f"blue light was lost {_since(one)} ({_light(one)}): the lamp ages, or the strip's paper "
        f"turns yellow; {why}",
        SECOND,
    )


def light_jump(one: Series, trend: Trend) -> Words:
    """Say that the light changed at once."""
    return (
        f"the scanner's light changed at once, {_between(trend)} ({_light(one)} in all): another "
        "exposure setting, a new lamp or a cleaned glass; lamps and papers do not age in a day",
        "nothing to do if that was meant; else scan with one saved setting of the driver",
    )


def percent(trend: Trend) -> str:
    """Give the size of a change."""
    return f"{abs(trend.change):.0f}"


def _light(one: Series) -> str:
    parts = zip(("red", "green", "blue"), LIGHTS, strict=True)
    return ", ".join(f"{name} {round(one.trends[q].change):+d} %" for name, q in parts)


def _names(quantities: Sequence[Quantity]) -> str:
    ways = {
        Quantity.CYAN: "cyan takes away red light",
        Quantity.MAGENTA: "magenta takes away green",
        Quantity.YELLOW: "yellow takes away blue",
    }
    return "; ".join(ways[q] for q in quantities if q in ways)


def _since(one: Series) -> str:
    return f"from {one.days[0].date} to {one.days[-1].date}"


def _between(trend: Trend) -> str:
    before, after = trend.jump or ("", "")
    return f"between {before} and {after}"


def _span(one: Series) -> int:
    first, last = (date.fromisoformat(one.days[k].date) for k in (0, -1))
    return (last - first).days + 1


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
