"""HTML pages read back: well nested, and what is in them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

__all__ = ["Element", "page_of"]

_EMPTY = {"meta", "br", "input", "link", "img", "hr"}


@dataclass
class Element:
    """An element with its attributes and what it holds."""

    tag: str
    attributes: dict[str, str] = field(default_factory=dict)
    content: list[Element | str] = field(default_factory=list)

    def all(self, *tags: str) -> Iterator[Element]:
        """Every element within, itself too, that has one of these tags; every one without any."""
        if not tags or self.tag in tags:
            yield self
        for part in self.content:
            if isinstance(part, Element):
                yield from part.all(*tags)

    @property
    def text(self) -> str:
        """All text within, with single blanks."""
        return " ".join("".join(self._texts()).split())

    def _texts(self) -> Iterator[str]:
        for part in self.content:
            if isinstance(part, str):
                yield part
            else:
                yield " "
                yield from part._texts()
                yield " "


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open = [Element("(page)")]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert len({name for name, _ in attrs}) == len(attrs), f"an attribute of {tag} stands twice"
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].content.append(element)
        if tag not in _EMPTY:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _EMPTY:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].content.append(data)


def page_of(html: str) -> Element:
    """The page; AssertionError where it is not well nested."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    assert len(reader.open) == 1, f"<{reader.open[-1].tag}> is not closed"
    return reader.open[0]
