"""Progress on the terminal, with the time left; silent when nobody watches."""

from __future__ import annotations

import sys
import time

WAIT = 2.0
"""Seconds a task may take before progress is shown."""
EVERY = 0.2
"""Seconds between two updates."""


class TerminalProgress:
    """Writes one line on stderr over and over, and wipes it at the end."""

    def __init__(self) -> None:
        self.watched = sys.stderr.isatty()
        self.label = ""
        self.start = self.last = time.monotonic()
        self.width = 0

    def __call__(self, label: str, done: float) -> None:
        """Show the share done and the time left of the task called ``label``."""
        now = time.monotonic()
        if label != self.label:
            self.label, self.start = label, now
        if not self.watched or now - self.start < WAIT or now - self.last < EVERY:
            return
        self.last = now
        self.show(f"{label} {done:4.0%}{time_left(now - self.start, done)}")

    def show(self, line: str) -> None:
        """Write over the last line."""
        sys.stderr.write("\r" + line.ljust(self.width))
        sys.stderr.flush()
        self.width = len(line)

    def end(self) -> None:
        """Wipe the line."""
        if self.width:
            self.show("")
            sys.stderr.write("\r")
            self.width = 0


def time_left(passed: float, done: float) -> str:
    """Put the time left in words; nothing while too little is done to tell."""
    if done < 0.02:
        return ""
    seconds = passed * (1 - done) / done
    if seconds < 90:
        return f", {seconds:.0f} s left"
    return f", {seconds / 60:.0f} min left"
