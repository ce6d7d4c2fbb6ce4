"""Long sentences broken for a terminal, and quantities in the unit that reads best."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

WIDTH = 96


def bullets(title: str, sentences: Sequence[str]) -> list[str]:
    """Give a title with sentences below it, indented and broken."""
    lines = [f"{title}:"]
    for text in sentences:
        lines += sentence(text, "    - ", "      ")
    return lines


def sentence(text: str, first: str, then: str, width: int = WIDTH) -> list[str]:
    """Break one sentence, its first line begun with ``first``, the others with ``then``."""
    # A number keeps its sign of percent.
    lines = textwrap.wrap(
        text.replace(" %", "\N{NO-BREAK SPACE}%"), width, initial_indent=first,
        subsequent_indent=then, break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def counted(number: int, word: str) -> str:
    """Give a number of things."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def megabytes(count: float) -> str:
    """Give bytes in MB or GB, powers of ten."""
    return f"{count / 1e9:.1f} GB" if count >= 1e9 else f"{count / 1e6:.0f} MB"


def duration(seconds: float) -> str:
    """Give a time in minutes, or hours and minutes."""
    minutes = max(1, round(seconds / 60))
    hours, rest = divmod(minutes, 60)
    return f"{minutes} min" if not hours else f"{hours} h {rest} min" if rest else f"{hours} h"
