"""``fitcheck assess --lines``: very many fittings, a line of JSON each, by this process or by a cluster."""

from __future__ import annotations

import argparse
import itertools
import json
import os
import sys
import time
from collections import Counter, deque
from collections.abc import Collection, Iterable, Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final

from fitcheck.bulk import BookName, ClusterLost, OtherRulebook, assess_part, in_order, line_parts
from fitcheck.cli import BAD_INPUT, BAD_USAGE, FAILED
from fitcheck.cli.cluster_options import chosen_cluster
from fitcheck.cli.options import book_in_language, chosen_book, rulebook_name
from fitcheck.cli.progress import Progress, progress
from fitcheck.vocabulary import now
from rules.lazy import lazily

if TYPE_CHECKING:
    from pyarrow.parquet import ParquetFile
else:
    ParquetFile = lazily("pyarrow.parquet", "ParquetFile")

__all__ = ["run_lines"]

_FLUSH_EVERY_S: Final = 2.0
_COLUMN: Final = "fitting"


def run_lines(options: argparse.Namespace) -> int:
    """Answer every line; the status is 0 where all were assessed, 65 where some could not be."""
    book = book_in_language(options, chosen_book(options, judging=True))
    sizes: deque[float] = deque()
    name = BookName(rulebook_name(options), book.digest, None if book.original is None else book.language)
    try:
        with (
            chosen_cluster(options) as cluster,
            _output(options) as stream,
            progress(options, "B", _size(options.files), printing=options.output is None) as reporter,
        ):
            done, counts = _answered(stream, book.digest) if options.resume else (0, Counter[str]())
            parts = line_parts(_lines(options.files, sizes), name, now(), done=done)
            _write(in_order(assess_part, parts, cluster), stream, counts, _Read(sizes, done, reporter))
    except ModuleNotFoundError as error:
        print(f"fitcheck assess: {error.name} is not installed: pip install 'fitcheck[cluster]'.", file=sys.stderr)
        return BAD_USAGE
    except (ClusterLost, OtherRulebook) as error:
        print(f"fitcheck assess: {error} What was answered stands; go on with --resume.", file=sys.stderr)
        return FAILED
    except BrokenPipeError:
        raise
    except OSError as error:
        print(f"fitcheck assess: {error.filename or ''}: {error.strerror or error}.", file=sys.stderr)
        return BAD_USAGE
    except ValueError as error:
        print(f"fitcheck assess: {error}", file=sys.stderr)
        return BAD_INPUT
    if options.output is not None:
        print(f"{counts['assessment']} assessed, {counts['problem']} could not be.")
    return BAD_INPUT if counts["problem"] else 0


def _write(answers: Iterable[list[bytes]], stream: BinaryIO, counts: Counter[str], read: _Read) -> None:
    flushed = time.monotonic()
    for lines in answers:
        stream.write(b"".join(line + b"\n" for line in lines))
        for line in lines:
            counts[_kind(line)] += 1
        read.answered(len(lines), counts.total())
        if time.monotonic() - flushed >= _FLUSH_EVERY_S:
            flushed = time.monotonic()
            stream.flush()
    stream.flush()


class _Read:
    """The bytes of the lines that were read, and how many of them are answered."""

    def __init__(self, sizes: deque[float], done: int, reporter: Progress) -> None:
        self._sizes = sizes
        self._passed_over = done
        self._reporter = reporter

    def answered(self, count: int, total: int) -> None:
        """So many more lines are answered, and in all ``total``."""
        count += self._passed_over
        self._passed_over = 0
        self._reporter.note(f"{total} lines")
        self._reporter.step(round(sum(self._sizes.popleft() for _ in range(count))))


def _kind(line: bytes) -> str:
    head = line[:40]
    return next((kind for kind in ("assessment", "problem") if f'"{kind}"'.encode() in head), "blank")


def _output(options: argparse.Namespace) -> nullcontext[BinaryIO] | BinaryIO:
    if options.output is None:
        return nullcontext(sys.stdout.buffer)
    flags = os.O_RDWR | os.O_CREAT | (0 if options.resume else os.O_TRUNC)
    return os.fdopen(os.open(options.output, flags, 0o600), "r+b")


def _answered(stream: BinaryIO, digest: str) -> tuple[int, Counter[str]]:
    """How many lines an output answers already; what is no whole line at its end is cut off.

    Raises ValueError where it is the output of something else, or by a rulebook with another ``digest``.
    """
    counts: Counter[str] = Counter()
    done = size = 0
    last = b""
    for line in iter(stream.readline, b""):
        if not line.endswith(b"\n"):
            break
        done += 1
        if not line.startswith(b'{"line":%d' % done):
            raise ValueError(f"Line {done} of the output is no answer of fitcheck assess --lines. Name another file.")
        size += len(line)
        counts[_kind(line)] += 1
        last = line if _kind(line) == "assessment" else last
    if last and json.loads(last)["assessment"]["rulebook"]["digest"] != digest:
        raise ValueError("The output was made by another rulebook. Go on by the same, or name another file.")
    stream.seek(size)
    stream.truncate()
    return done, counts


def _size(files: Collection[str]) -> int | None:
    """How many bytes all lines have; None where only reading them tells."""
    return None if "-" in files else sum(Path(name).stat().st_size for name in files)


def _lines(files: Iterable[str], sizes: deque[float]) -> Iterator[bytes]:
    """All lines of all files, one after another; ``sizes`` gets the bytes of each, in its file."""
    for line, size in itertools.chain.from_iterable(map(_lines_of, files)):
        sizes.append(size)
        yield line


def _lines_of(name: str) -> Iterator[tuple[bytes, float]]:
    if name == "-":
        yield from ((line, len(line)) for line in sys.stdin.buffer)
    elif Path(name).suffix == ".parquet":
        yield from _column(name)
    else:
        with Path(name).open("rb") as stream:
            yield from ((line, len(line)) for line in stream)


def _column(name: str) -> Iterator[tuple[bytes, float]]:
    """The texts of a Parquet file, a few at a time in memory. Raises ValueError where it has no such column."""
    file = ParquetFile(name)
    if _COLUMN not in file.schema_arrow.names:
        raise ValueError(f'{name} has no column "{_COLUMN}". Put each fitting there as a text of JSON.')
    size = Path(name).stat().st_size / max(1, file.metadata.num_rows)
    for batch in file.iter_batches(batch_size=1000, columns=[_COLUMN]):
        for value in batch.column(0):
            text = value.as_py()
            yield b"" if text is None else text.encode() if isinstance(text, str) else bytes(text), size
