"""Markdown that reads well as plain text too: headings, wrapped paragraphs and lists, links by their names."""

from __future__ import annotations

import re
import textwrap
from typing import Final

__all__ = ["Page", "escaped", "slug_of"]

_WIDTH: Final = 100
_PART: Final = 2
_STICKS: Final = "\x00"
_MARKERS: Final = re.compile(r" (?=(?:[-+*=#>]+|\d+[.)])(?: |$)|>)")
"""A blank in front of what would begin a list, heading or quotation if it came to stand first on a line."""
_SPECIAL: Final = re.compile(r"([\\`*\[\]<])")
_EDGE: Final = re.compile(r"(?<!\w)_|_(?!\w)")


def escaped(text: str) -> str:
    r"""Text of a rulebook, so that nothing in it is taken for markup.

    >>> escaped("at most 5 * [x]")
    'at most 5 \\* \\[x\\]'
    """
    return _EDGE.sub(r"\\_", _SPECIAL.sub(r"\\\1", text))


def slug_of(title: str) -> str:
    """The anchor that a heading gets where Markdown is shown.

    >>> slug_of("LA: A Text-Book of Horseshoeing")
    'la-a-text-book-of-horseshoeing'
    """
    return re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-")


class Page:
    """A page that grows line by line."""

    def __init__(self) -> None:
        self._lines: list[str] = []
        self._links: dict[str, str] = {}
        self._contents_at: int | None = None
        self._parts: list[str] = []

    def heading(self, level: int, title: str, name: str | None = None) -> None:
        """A heading; where it has a ``name``, ``[name]`` anywhere on the page links to it.

        Those of the second level go by their titles.
        """
        self._blank()
        self._lines.append(f"{'#' * level} {title}")
        if level == _PART:
            self._parts.append(title)
            name = title
        if name is not None:
            self._links[name] = slug_of(title)

    def contents(self) -> None:
        """Here goes a list of the page's parts, the headings of the second level."""
        self._contents_at = len(self._lines)

    def paragraph(self, text: str) -> None:
        """A paragraph."""
        self._blank()
        self._wrapped(text, "", "")

    def item(self, text: str, depth: int = 0) -> None:
        """An item of a list; ``depth`` 1 for a list within an item."""
        if not self._lines[-1].lstrip().startswith("- ") and not self._lines[-1].startswith("  "):
            self._blank()
        indent = "  " * depth
        self._wrapped(text, f"{indent}- ", f"{indent}  ")

    def field(self, name: str, text: str) -> None:
        """An item with what it is about in front."""
        self.item(f"**{name}:** {text}")

    def text(self) -> str:
        """The whole page, with what its links lead to, ending in a newline."""
        lines = list(self._lines)
        if self._contents_at is not None:
            lines[self._contents_at : self._contents_at] = ["", *(f"- [{title}]" for title in self._parts)]
        links = [f"[{name}]: #{slug}" for name, slug in self._links.items()]
        return "\n".join([*lines, "", *links]) + "\n"

    def _blank(self) -> None:
        if self._lines:
            self._lines.append("")

    def _wrapped(self, text: str, lead: str, rest: str) -> None:
        lines = textwrap.wrap(
            _MARKERS.sub(_STICKS, " ".join(text.split())),
            _WIDTH,
            initial_indent=lead,
            subsequent_indent=rest,
            break_long_words=False,
            break_on_hyphens=False,
        )
        self._lines.extend(line.replace(_STICKS, " ") for line in lines)
