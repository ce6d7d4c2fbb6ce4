"""Reads a page as a browser would: its text, its addresses, its nesting."""

from __future__ import annotations

from html.parser import HTMLParser
from xml.etree import ElementTree

VOID = {"meta", "link", "br", "img", "hr", "input"}
"""Elements without an end (HTML standard, 13.1.2, of those the page could use)."""
INLINE = {"span", "b", "i", "em", "strong", "a"}
ADDRESSED = {"href", "src", "srcset", "action", "data", "poster", "xlink:href", "ping"}


class Page(HTMLParser):
    """Collects the text, the addresses, the names of elements and handlers of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.addresses: list[str] = []
        self.elements: set[str] = set()
        self.handlers: list[str] = []
        self.open: list[str] = []
        self.feed(html)
        self.close()

    @property
    def text(self) -> str:
        """The text in one line, blanks single."""
        return " ".join("".join(self.words).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.add(tag)
        self._between(tag)
        self.addresses += [value or "" for name, value in attrs if name in ADDRESSED]
        self.handlers += [name for name, _ in attrs if name.startswith("on")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag
        self._between(tag)

    def _between(self, tag: str) -> None:
        """Keep apart the words of two elements that do not stand in one line."""
        if tag not in INLINE:
            self.words.append(" ")

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.words.append(data)


def plain(text: str) -> str:
    """Make blanks single, as the page's text has them."""
    return " ".join(text.split())


def drawn(svg: str) -> ElementTree.Element:
    """Read a drawing as strict XML."""
    return ElementTree.fromstring(svg)
