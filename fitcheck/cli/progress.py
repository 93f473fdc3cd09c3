"""How far a long work has come, on standard error for whoever looks on: done of all, how fast, how long it still takes.

Nothing of it stands on standard output, and none on standard error either where that is no terminal, unless asked for.
"""

from __future__ import annotations

import argparse
import io
import shutil
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, nullcontext
from typing import TYPE_CHECKING, Any, Final, TypeVar

from fitcheck.cli.printable import beneath
from rules.lazy import lazily

if TYPE_CHECKING:
    from tqdm import tqdm
else:
    tqdm = lazily("tqdm", "tqdm")

__all__ = ["Counted", "Progress", "add_progress_option", "progress"]

_Each = TypeVar("_Each")

_WAITS_S: Final = 0.3
"""What is done sooner shows nothing of itself."""
_EVERY_S: Final = 0.2
_ELSEWHERE_EVERY_S: Final = 5.0
"""How often it is told to a terminal, and to a file or a pipe."""


def add_progress_option(parser: argparse.ArgumentParser | argparse._ArgumentGroup) -> None:
    """Add ``--progress`` and ``--no-progress``."""
    parser.add_argument(
        "--progress",
        action=argparse.BooleanOptionalAction,
        help="tell on standard error how far it has come (default: where that is a terminal)",
    )


class Progress:
    """Is told of what was done, and shows it where somebody looks on."""

    def __init__(self, bar: Any = None) -> None:
        """``bar``: of tqdm; without one nothing is shown."""
        self._bar = bar

    def __call__(self, done: int, total: int | None = None) -> None:
        """So much is done, of so much in all where that is known."""
        if self._bar is not None:
            self._bar.total = self._bar.total if total is None else total
            self._bar.update(done - self._bar.n)

    def step(self, count: int = 1) -> None:
        """So much more is done."""
        if self._bar is not None:
            self._bar.update(count)

    def note(self, text: str) -> None:
        """What stands behind the figures."""
        if self._bar is not None:
            self._bar.set_postfix_str(text, refresh=False)

    def over(self, each: Iterable[_Each]) -> Iterator[_Each]:
        """The same, each of which is a step."""
        for one in each:
            yield one
            self.step()

    def aside(self) -> Any:
        """For as long as the block runs, the line of figures is out of the way of what is printed."""
        return nullcontext() if self._bar is None else self._bar.external_write_mode()


@contextmanager
def progress(
    options: argparse.Namespace, unit: str, total: int | None = None, *, printing: bool = False
) -> Iterator[Progress]:
    """What is told how far the command has come, in ``unit``, of ``total`` where that is known beforehand.

    ``printing``: what it does goes to standard output; where that is a terminal too, it shows by itself.
    """
    shown: bool | None = options.progress
    terminal = sys.stderr.isatty()
    if not (terminal and not (printing and sys.stdout.isatty()) if shown is None else shown):
        yield Progress()
        return
    size = shutil.get_terminal_size((96, 24))
    with tqdm(
        desc=f"fitcheck {options.command}",
        total=total,
        unit=unit if unit == "B" else f" {unit}",
        unit_scale=unit == "B",
        file=beneath(sys.stderr),
        mininterval=_EVERY_S if terminal else _ELSEWHERE_EVERY_S,
        miniters=1,
        delay=0.0 if shown else _WAITS_S,
        leave=bool(shown),
        ncols=min(100, size.columns),
        nrows=size.lines,
    ) as bar:
        yield Progress(bar)


class Counted(io.RawIOBase):
    """A stream of bytes that tells how many of them were read."""

    def __init__(self, stream: io.BufferedIOBase, reporter: Progress) -> None:
        """``stream`` is read by this alone; it is not closed with it."""
        self._stream = stream
        self._reporter = reporter

    def readable(self) -> bool:
        """It is."""
        return True

    def readinto(self, buffer: Any) -> int:
        """Read what is at hand into ``buffer``; returns how many bytes."""
        count = self._stream.readinto1(buffer)
        self._reporter.step(count)
        return count
