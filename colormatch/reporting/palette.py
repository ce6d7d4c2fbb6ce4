"""The page's colours, by what they are for; in light and in dark.

Grounds are neutral grey, so that they do not tint the colours judged on them.
Nothing is told by colour alone: a word, a sign, a shape or a dash goes with it.
"""

from __future__ import annotations

LIGHT = {
    "ground": "#f3f3f3",
    "card": "#ffffff",
    "ink": "#1b1b1b",
    "soft": "#545454",
    "rule": "#c8c8c8",
    "use": "#0a5a96",
    "care": "#874a00",
    "rescan": "#a11b3c",
    "one": "#0a5a96",
    "two": "#a04e00",
    "red": "#b0261c",
    "green": "#1c6a3c",
    "blue": "#2b4fb8",
}
"""On paper and in a light room."""

DARK = {
    "ground": "#191919",
    "card": "#232323",
    "ink": "#ececec",
    "soft": "#b6b6b6",
    "rule": "#4d4d4d",
    "use": "#7fc1f4",
    "care": "#f0b35c",
    "rescan": "#ff9aac",
    "one": "#7fc1f4",
    "two": "#f0b35c",
    "red": "#ff8f84",
    "green": "#6fcf97",
    "blue": "#9db4ff",
}
"""Where the reader's system asks for dark pages."""

GROUNDS = ("ground", "card")
"""What text stands on."""
LINES = ("rule",)
"""What is only ever a thin line, never text and never needed to understand."""


def variables(colours: dict[str, str]) -> str:
    """Give colours as CSS custom properties."""
    return "".join(f"--{name}:{value};" for name, value in colours.items())
