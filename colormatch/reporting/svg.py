"""A few lines of SVG: elements with everything escaped, and the axes of a plot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

Span = tuple[float, float]


def tag(name: str, *children: str, **attributes: float | str) -> Markup:
    """Give one element; texts and attributes are escaped, `Markup` is not.

    Parameters
    ----------
    name : str
        Of the element.
    *children : str
        Text or elements.
    **attributes : float or str
        ``class_`` stands for ``class``, an underscore inside for a hyphen.
    """
    given = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(_number(value))}"'
        for key, value in attributes.items()
    )
    inside = "".join(escape(child) for child in children)
    return Markup(f"<{name}{given}>{inside}</{name}>")


def _number(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.2f}".rstrip("0").rstrip(".")


def drawing(width: float, height: float, title: str, *parts: str, class_: str = "plot") -> Markup:
    """Give a whole picture of ``width`` by ``height`` units that scales with the page."""
    box = f"0 0 {_number(width)} {_number(height)}"
    return tag(
        "svg", *parts, viewBox=box, role="img", aria_label=title, class_=class_,
        style=f"--w:{_number(width)}px",
    )  # fmt: skip


def text(x: float, y: float, words: str, anchor: str = "start", class_: str = "t") -> Markup:
    """Give a line of text."""
    return tag("text", words, x=x, y=y, text_anchor=anchor, class_=class_)


def line(a: Span, b: Span, class_: str) -> Markup:
    """Give a straight line."""
    return tag("line", x1=a[0], y1=a[1], x2=b[0], y2=b[1], class_=class_)


def points(places: Sequence[Span]) -> str:
    """Give places as the attribute of a polygon or polyline."""
    return " ".join(f"{_number(float(x))},{_number(float(y))}" for x, y in places)


def signed(value: float, digits: int = 1) -> str:
    """Give a number with its sign, none for what rounds to nothing."""
    words = f"{value:+.{digits}f}"
    return words[1:] if float(words) == 0 else words.replace("-", "\u2212")


def ticks(span: Span, wanted: int = 5) -> list[float]:
    """Give round numbers inside a span, about as many as wanted."""
    length = span[1] - span[0]
    rough = length / max(wanted, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * m for m in (1, 2, 5, 10) if power * m >= rough * 0.999)
    first = math.ceil(span[0] / step - 1e-9)
    last = math.floor(span[1] / step + 1e-9)
    return [round(k * step, 10) for k in range(first, last + 1)]


@dataclass(frozen=True, kw_only=True)
class Axes:
    """A plot's frame: what its edges stand for, and its size in drawing units."""

    x: Span
    y: Span
    width: float = 340.0
    height: float = 250.0
    left: float = 48.0
    right: float = 12.0
    top: float = 12.0
    bottom: float = 42.0

    def at(self, x: float, y: float) -> Span:
        """Give the place of a value."""
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - self.y[0]) / (self.y[1] - self.y[0])
        return (
            self.left + across * (self.width - self.left - self.right),
            self.height - self.bottom - up * (self.height - self.top - self.bottom),
        )

    def frame(
        self, x_title: str, y_title: str, *, x_numbers: bool = True, y_numbers: bool = True
    ) -> list[Markup]:
        """Draw grid lines, numbers and titles."""
        parts = []
        for value in ticks(self.y) if y_numbers else []:
            a, b = self.at(self.x[0], value), self.at(self.x[1], value)
            parts += [line(a, b, "grid"), text(a[0] - 6, a[1] + 4, f"{value:g}", "end")]
        for value in ticks(self.x) if x_numbers else []:
            a, b = self.at(value, self.y[0]), self.at(value, self.y[1])
            parts += [line(a, b, "grid"), text(a[0], a[1] + 15, f"{value:g}", "middle")]
        middle = (self.height - self.bottom + self.top) / 2
        turned = tag(
            "text", y_title, x=12, y=middle, text_anchor="middle", class_="t soft",
            transform=f"rotate(-90 12 {middle:g})",
        )  # fmt: skip
        centre = (self.left + self.width - self.right) / 2
        return [*parts, turned, text(centre, self.height - 6, x_title, "middle", "t soft")]

    def path(self, places: Sequence[Span], class_: str) -> Markup:
        """Draw a line through values."""
        return tag("polyline", points=points([self.at(*p) for p in places]), class_=class_)

    def across(self, y: float, class_: str) -> Markup:
        """Draw a level line."""
        return line(self.at(self.x[0], y), self.at(self.x[1], y), class_)
