"""What a drawing on the page comes with: its name, and how to read it."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup


@dataclass(frozen=True, kw_only=True)
class Plot:
    """A drawing, what it is called, and how to read it and what good looks like."""

    title: str
    svg: Markup
    caption: str
    wide: bool = False
    legend: Markup | None = None


@dataclass(frozen=True, kw_only=True)
class Gallery:
    """Small drawings of one kind side by side: each with a name and a line below it."""

    title: str
    items: tuple[tuple[str, Markup, str], ...]
    caption: str
    legend: Markup | None = None
