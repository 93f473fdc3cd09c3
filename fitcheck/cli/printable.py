"""What commands print, made harmless for a terminal: names of files, ids and titles of rulebooks come from others."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from typing import Any, Final, TextIO, cast

__all__ = ["beneath", "printable", "printing"]

_HARMFUL: Final = re.compile(
    # Control characters but tabs and line feeds, marks that turn or hide text, separators of lines, lone surrogates.
    "[\0-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\ud800-\udfff"
    "\U000e0000-\U000e007f]"
)


def printable(text: str) -> str:
    r"""The text with each harmful character as an escape, as JSON writes it: in JSON it still means the same.

    >>> printable("H-1\x1b[2J")
    'H-1\\u001b[2J'
    """
    return _HARMFUL.sub(_escape, text)


def _escape(found: re.Match[str]) -> str:
    units = found[0].encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{units[start : start + 4]}" for start in range(0, len(units), 4))


class _Printable:
    """A stream of text that writes what is printable; its bytes go through as they are."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        self._stream.write(printable(text))
        return len(text)

    def writelines(self, lines: Iterator[str]) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def beneath(stream: TextIO) -> TextIO:
    """The stream that what is printed goes to at last: for the command's own figures, which go over one another."""
    return stream._stream if isinstance(stream, _Printable) else stream  # noqa: SLF001  (of this module)


@contextmanager
def printing() -> Iterator[None]:
    """While the block runs, whatever is printed is printable."""
    out, err = (cast("TextIO", _Printable(stream)) for stream in (sys.stdout, sys.stderr))
    with redirect_stdout(out), redirect_stderr(err):
        yield
