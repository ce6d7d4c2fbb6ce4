"""A log's history drawn: for each strip on each scanner three plots over the same days."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from colormatch.drifts import INKS, LIGHTS, HistoryReport, Limit, Quantity, Series
from colormatch.reporting.dates import date_ticks
from colormatch.reporting.palette import LIGHT
from colormatch.reporting.shapes import Box, Path, Shape, Sheet, Words
from colormatch.reporting.svg import Axes, Span, ticks
from colormatch.reporting.wrapping import counted, sentence

WIDTH = 980.0
LEFT = 30.0
PANEL = 176.0
"""Height of a plot."""
MOST_SERIES = 6
_At = Callable[[float, float], Span]
LINE = 15.0
LETTERS = 128
"""In a line of text below a series' title."""
LABEL_STEP = 13.0


@dataclass(frozen=True, kw_only=True)
class Curve:
    """How a quantity is drawn: colour, sign and name, never colour alone."""

    quantity: Quantity
    name: str
    colour: str
    sign: str


@dataclass(frozen=True, kw_only=True)
class Panel:
    """One plot: title, its curves, and the least half height of its axis."""

    title: str
    curves: tuple[Curve, ...]
    least: float
    from_zero: bool = False


PANELS = (
    Panel(
        title="difference to the reference, ΔE2000, patches left out of the fit",
        curves=(
            Curve(quantity=Quantity.MEAN, name="mean", colour=LIGHT["one"], sign="dot"),
            Curve(quantity=Quantity.P95, name="P95", colour=LIGHT["two"], sign="square"),
        ),
        least=2.5,
        from_zero=True,
    ),
    Panel(
        title="light on paper and light greys, change in percent",
        curves=(
            Curve(quantity=LIGHTS[0], name="red", colour=LIGHT["red"], sign="dot"),
            Curve(quantity=LIGHTS[1], name="green", colour=LIGHT["green"], sign="square"),
            Curve(quantity=LIGHTS[2], name="blue", colour=LIGHT["blue"], sign="triangle"),
        ),
        least=12.0,
    ),
    Panel(
        title="density lost, percent: one ink alone is a fading strip",
        curves=(
            Curve(quantity=INKS[0], name="cyan", colour="#00707f", sign="dot"),
            Curve(quantity=INKS[1], name="magenta", colour="#a3195b", sign="square"),
            Curve(quantity=INKS[2], name="yellow", colour="#7a6200", sign="triangle"),
            Curve(quantity=Quantity.TONE, name="all tones", colour=LIGHT["soft"], sign="diamond"),
        ),
        least=12.0,
    ),
)


def history_sheet(report: HistoryReport) -> Sheet:
    """Draw a history.

    Parameters
    ----------
    report : HistoryReport

    Returns
    -------
    Sheet
        At most `MOST_SERIES` strips; a line says if there are more.
    """
    drawn = report.series[:MOST_SERIES]
    title = f"{report.log}: {counted(report.scans, 'scan')}"
    shapes: list[Shape] = [Words(at=(LEFT, 36), text=title, size=18)]
    y = 54.0
    for one in drawn:
        part, y = _series(one, report, y)
        shapes += part
    if len(report.series) > len(drawn):
        more = len(report.series) - len(drawn)
        text = f"{more} more not drawn: choose with --scanner or --strip"
        shapes.append(Words(at=(LEFT, y + 14), text=text))
        y += 24
    return Sheet(size=(WIDTH, y + 14), title=title, shapes=tuple(shapes))


def _series(one: Series, report: HistoryReport, top: float) -> tuple[list[Shape], float]:
    name = one.scanner or "without a name"
    scans, days = counted(one.scans, "scan"), counted(len(one.days), "day")
    head = f"scanner {name}, strip {one.strip}: {scans} on {days}"
    shapes: list[Shape] = [Words(at=(LEFT, top + 22), text=head, size=14)]
    y = top + 40
    for said in report.statements:
        if said.of(one):
            for line in sentence(said.text, "– " if said.told else "? ", "   ", LETTERS):
                shapes.append(Words(at=(LEFT, y), text=line, size=11.5))
                y += LINE
    for panel in PANELS:
        shapes += _panel(one, panel, report.limits, y)
        y += PANEL
    return shapes, y + 8


def _panel(one: Series, panel: Panel, limits: Sequence[Limit], top: float) -> list[Shape]:
    axes = _axes(one, panel, limits)

    def at(x: float, y: float) -> Span:
        across, down = axes.at(x, y)
        return across, down + top

    shapes: list[Shape] = [
        Words(at=(axes.left, top + 14), text=panel.title, size=11.5, colour=LIGHT["soft"])
    ]
    shapes += _grid(axes, at)
    shapes += _limit_lines(axes, panel, limits, at)
    ends = []
    for curve in panel.curves:
        shapes += _curve(one, curve, at)
        shown = [day for day in one.days if curve.quantity in day.values]
        if shown:
            last = at(axes.x[1], shown[-1].values[curve.quantity])
            ends.append((last[1], curve))
    return shapes + _labels(ends, axes)


def _axes(one: Series, panel: Panel, limits: Sequence[Limit]) -> Axes:
    values = [
        day.values[c.quantity] for day in one.days for c in panel.curves if c.quantity in day.values
    ]
    reach = max([panel.least, *(abs(v) * 1.08 for v in values)])
    reach = max([reach, *(limit.value * 1.15 for limit in _of(panel, limits))])
    first, last = (float(_number(one.days[k].date)) for k in (0, -1))
    if last - first < 1:
        first, last = first - 1, last + 1
    return Axes(
        x=(first, last),
        y=(0.0 if panel.from_zero else -reach, reach),
        width=WIDTH - LEFT,
        height=PANEL,
        left=LEFT + 42,
        right=92.0,
        top=22.0,
        bottom=26.0,
    )


def _of(panel: Panel, limits: Sequence[Limit]) -> list[Limit]:
    mine = {curve.quantity for curve in panel.curves}
    return [limit for limit in limits if mine & set(limit.quantities)]


def _number(day: str) -> int:
    return date.fromisoformat(day).toordinal()


def _grid(axes: Axes, at: _At) -> list[Shape]:
    shapes: list[Shape] = []
    for value in ticks(axes.y):
        ends = at(axes.x[0], value), at(axes.x[1], value)
        shapes.append(Path(places=ends, line=LIGHT["rule"], width=0.7))
        shapes.append(
            Words(at=(ends[0][0] - 7, ends[0][1] + 4), text=f"{value:g}", size=10.5, anchor="end")
        )
    for day, name in date_ticks(round(axes.x[0]), round(axes.x[1])):
        low, high = at(day, axes.y[0]), at(day, axes.y[1])
        shapes.append(Path(places=(low, high), line=LIGHT["rule"], width=0.7))
        shapes.append(Words(at=(low[0], low[1] + 15), text=name, size=10.5, anchor="middle"))
    return shapes


def _limit_lines(axes: Axes, panel: Panel, limits: Sequence[Limit], at: _At) -> list[Shape]:
    shapes: list[Shape] = []
    for limit in _of(panel, limits):
        signs = (1.0,) if panel.from_zero else (1.0, -1.0)
        for value in (sign * limit.value for sign in signs):
            ends = at(axes.x[0], value), at(axes.x[1], value)
            shapes.append(Path(places=ends, line=LIGHT["rescan"], width=1.0, dashed=True))
        above = at(axes.x[0], limit.value)
        of = "" if len(limit.quantities) > 1 else f" of the {limit.quantities[0].value}"
        text = f"limit{of} {limit.value:g} {limit.unit}"
        at_text = (above[0] + 4, above[1] - 4)
        shapes.append(Words(at=at_text, text=text, size=10, colour=LIGHT["rescan"]))
    return shapes


def _curve(one: Series, curve: Curve, at: _At) -> list[Shape]:
    places = [
        at(_number(day.date), day.values[curve.quantity])
        for day in one.days
        if curve.quantity in day.values
    ]
    shapes: list[Shape] = [_mark(place, curve) for place in places]
    trend = one.trends.get(curve.quantity)
    if trend is None:
        return shapes
    days = [day for day in one.days if curve.quantity in day.values]
    first, last = _number(days[0].date), _number(days[-1].date)
    if trend.jump is None:
        end = trend.start + trend.slope * (last - first) / 365.25
        line = (at(first, trend.start), at(last, end))
        shapes.append(Path(places=line, line=curve.colour, width=1.4, dashed=not trend.changed))
    return shapes


def _mark(place: Span, curve: Curve) -> Shape:
    x, y = place
    corners: tuple[Span, ...]
    match curve.sign:
        case "square":
            return Box(at=(x - 2.6, y - 2.6), size=(5.2, 5.2), fill=curve.colour)
        case "triangle":
            corners = ((x, y - 3.6), (x + 3.4, y + 2.6), (x - 3.4, y + 2.6))
        case "diamond":
            corners = ((x, y - 3.4), (x + 3.4, y), (x, y + 3.4), (x - 3.4, y))
        case _:
            # Eight corners are round enough at this size, in both kinds of file.
            turn = ((1, 0), (0.7, 0.7), (0, 1), (-0.7, 0.7), (-1, 0), (-0.7, -0.7), (0, -1),
                    (0.7, -0.7))  # fmt: skip
            return Path(
                places=tuple((x + 2.9 * a, y + 2.9 * b) for a, b in turn),
                line=curve.colour, filled=True, width=0.5,
            )  # fmt: skip
    return Path(places=corners, line=curve.colour, filled=True, width=0.5)


def _labels(ends: list[tuple[float, Curve]], axes: Axes) -> list[Shape]:
    """Name the curves at their ends, apart from each other."""
    shapes: list[Shape] = []
    free = -1e9
    x = axes.width - axes.right + 10
    for y, curve in sorted(ends, key=lambda end: end[0]):
        free = max(y, free + LABEL_STEP)
        shapes.append(_mark((x, free), curve))
        shapes.append(Words(at=(x + 8, free + 4), text=curve.name, size=11, colour=curve.colour))
    return shapes
