"""Lines out of a stream of bytes that arrives in any pieces, in constant memory."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple

__all__ = ["Line", "LineSplitter"]

_NOT_BLANK: Final = re.compile(rb"[^ \t\n\r\x0b\x0c]")


class Line(NamedTuple):
    """A line that is not blank: its number, counted from 1 over all lines, and its bytes; None where it is too long."""

    number: int
    raw: bytes | None


class LineSplitter:
    r"""Splits at line feeds; a carriage return before one is dropped, blank lines are counted and left out.

    >>> lines = LineSplitter(longest=9)
    >>> [*lines.push(b'{"a"'), *lines.push(b': 1}\r\n\n{"b": 2'), *lines.end()]
    [Line(number=1, raw=b'{"a": 1}'), Line(number=3, raw=b'{"b": 2')]
    """

    def __init__(self, longest: int) -> None:
        """Lines of more than ``longest`` bytes are not kept."""
        self._longest = longest
        self._buffered = bytearray()
        self._too_long = False
        self._number = 1

    def push(self, chunk: bytes) -> Iterator[Line]:
        """The lines that end in ``chunk``."""
        start = self._past_blank_lines(chunk, 0)
        while (end := chunk.find(b"\n", start)) >= 0:
            self._keep(chunk[start:end])
            yield from self._line()
            start = self._past_blank_lines(chunk, end + 1)
        self._keep(chunk[start:])

    def end(self) -> Iterator[Line]:
        """The last line, where it did not end with a line feed."""
        yield from self._line()

    def _past_blank_lines(self, chunk: bytes, start: int) -> int:
        """Where in ``chunk`` the first line from ``start`` on begins that is not blank; those before it are counted.

        Blank lines are passed over all at once, since a batch may have a hundred million of them.
        """
        if self._buffered or self._too_long:
            return start
        found = _NOT_BLANK.search(chunk, start)
        stop = len(chunk) if found is None else found.start()
        begin = chunk.rfind(b"\n", start, stop) + 1
        if begin <= start or stop - start > self._longest:
            return start
        self._number += chunk.count(b"\n", start, begin)
        return begin

    def _keep(self, piece: bytes) -> None:
        # One byte more for the carriage return that belongs to the line's end.
        if not self._too_long and len(self._buffered) + len(piece) > self._longest + 1:
            self._too_long = True
            self._buffered.clear()
        if not self._too_long:
            self._buffered += piece

    def _line(self) -> Iterator[Line]:
        raw = bytes(self._buffered).removesuffix(b"\r")
        line = Line(self._number, None if self._too_long or len(raw) > self._longest else raw)
        self._number += 1
        self._buffered.clear()
        self._too_long = False
        if line.raw is None or line.raw.strip():
            yield line
