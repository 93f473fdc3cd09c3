"""``fitcheck regrade``: kept fittings under another rulebook, and what changes."""

from __future__ import annotations

import argparse
import json
import os
import shutil
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from fitcheck.bulk import BookName, ClusterLost, OtherRulebook, in_order, record_parts, regrade_part
from fitcheck.cli import BAD_INPUT, BAD_USAGE, FAILED
from fitcheck.cli.cluster_options import add_cluster_options, chosen_cluster
from fitcheck.cli.options import (
    add_language_option,
    add_rulebook_option,
    book_in_language,
    chosen_book,
    paint_for,
    rulebook_name,
)
from fitcheck.cli.progress import Progress, add_progress_option, progress
from fitcheck.cli.record_options import add_filters, add_records_option, chosen_records, chosen_store
from fitcheck.records import StoreError, default_url
from fitcheck.report.comparison_text import case_lines
from fitcheck.stored.regrade import Place, Regraded, Regrading, ReportRefused, Totals, resumed
from fitcheck.text.catalogue import messages_in

if TYPE_CHECKING:
    from fitcheck.bulk.cluster import Cluster

__all__ = ["configure"]

_INTERRUPTED: Final = 130
_FLUSH_EVERY_S: Final = 2.0
"""So much work at most is done again after a kill."""


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    add_records_option(parser)
    add_rulebook_option(parser)
    add_language_option(parser)
    parser.add_argument("--output", metavar="FILE", help="write a report there: a line of JSON for each record")
    parser.add_argument("--resume", action="store_true", help="go on with that report where it was broken off")
    parser.add_argument("--json", action="store_true", help="print JSON: the report, or with --output what it comes to")
    add_filters(parser, kinds=False)
    add_cluster_options(parser)
    add_progress_option(parser)
    parser.epilog = (
        "Nothing of the records is changed. Exit status: 0 no decision changes, 1 some do, 64 bad usage, 65 a faulty "
        "rulebook or a report of something else, 70 the store, a file or some assessment failed, 130 broken off: the "
        "report is whole as far as it goes."
    )
    parser.set_defaults(run=run, usage=parser.error)


def run(options: argparse.Namespace) -> int:
    """Assess again and report."""
    if options.resume and options.output is None:
        options.usage("--resume needs the --output to go on with")
    if options.cluster is not None and options.output is None and not options.json:
        options.usage("--cluster writes lines: give --output or --json")
    book = book_in_language(options, chosen_book(options, judging=True))
    try:
        with chosen_store(options, create=False) as store, chosen_cluster(options) as cluster:
            regrading = Regrading(store, book, chosen_records(options))
            return _Report(regrading, options, cluster).run()
    except ModuleNotFoundError as error:
        return _report_failure(BAD_USAGE, f"{error.name} is not installed: pip install 'fitcheck[cluster]'.")
    except (ClusterLost, OtherRulebook) as error:
        return _report_failure(FAILED, f"{error} The report is whole as far as it goes; go on with --resume.")
    except ReportRefused as error:
        return _report_failure(BAD_INPUT, f"{options.output}: {error}")
    except StoreError as error:
        return _report_failure(FAILED, str(error))
    except BrokenPipeError:
        raise
    except OSError as error:
        return _report_failure(FAILED, f"{error.filename or options.output}: {error.strerror or 'it failed'}.")


def _report_failure(status: int, message: str) -> int:
    print(f"fitcheck regrade: {message}", file=sys.stderr)
    return status


class _Report:
    """One run: lines to a file or to standard output, progress to standard error."""

    def __init__(self, regrading: Regrading, options: argparse.Namespace, cluster: Cluster | None) -> None:
        self._regrading = regrading
        self._cluster = cluster
        self._options = options
        self._totals = Totals()
        self._width = min(100, shutil.get_terminal_size((96, 24)).columns)
        self._flushed_at = time.monotonic()

    def run(self) -> int:
        """Go through all records; returns the exit status."""
        if self._options.output is None:
            if self._options.json:
                _print_line(sys.stdout.buffer, self._regrading.head())
            whole = self._go(0, None)
            self._end(sys.stdout.buffer if self._options.json else None, whole=whole)
        else:
            with _report_file(Path(self._options.output), new=not self._options.resume) as stream:
                after = self._begin(stream)
                whole = self._go(after, stream)
                self._end(stream, whole=whole)
                stream.flush()
                os.fsync(stream.fileno())
            self._print_totals()
        if not whole:
            print("fitcheck regrade: broken off.", file=sys.stderr)
            return _INTERRUPTED
        return FAILED if self._totals.failed else int(bool(self._totals.decisions))

    def _begin(self, stream: BinaryIO) -> int:
        """Bring the report to where it goes on; the number of the last record in it."""
        place = resumed(stream, self._regrading) if self._options.resume else Place(0, 0, self._totals)
        self._totals = place.totals
        stream.seek(place.size)
        stream.truncate()
        if not place.size:
            _print_line(stream, self._regrading.head())
        return place.number

    def _go(self, after: int, stream: BinaryIO | None) -> bool:
        """Assess what is left; False where it was broken off."""
        last = self._regrading.last()
        total = max(0, last - after)
        with _stoppable() as stop, progress(self._options, "records", total, printing=stream is None) as reporter:
            for line, regraded in self._each(after, last):
                self._totals.add(line)
                if stream is not None:
                    _print_line(stream, line)
                elif self._options.json:
                    _print_line(sys.stdout.buffer, line)
                elif regraded is not None:
                    self._show(regraded, reporter)
                reporter(line["number"] - after)
                self._flush(stream)
                if stop.requested:
                    return False
        return True

    def _each(self, after: int, last: int) -> Iterator[tuple[dict[str, Any], Regraded | None]]:
        """The line on each record, and what came of it where that was worked out here."""
        if self._cluster is None:
            for regraded in self._regrading.each(after=after, last=last):
                yield self._regrading.line(regraded), regraded
            return
        book, options = self._regrading.book, self._options
        name = BookName(rulebook_name(options), book.digest, None if book.original is None else book.language)
        store = options.records or default_url()
        parts = record_parts(last, store, chosen_records(options), name, after=after)
        for lines in in_order(regrade_part, parts, self._cluster):
            yield from ((json.loads(line), None) for line in lines)

    def _show(self, regraded: Regraded, reporter: Progress) -> None:
        if regraded.problem is not None:
            with reporter.aside():
                print(f"{regraded.record.id}: {regraded.problem}", file=sys.stderr)
        elif regraded.case is not None and regraded.case.changes:
            paint = paint_for(sys.stdout)
            lines = case_lines(regraded.case, self._regrading.difference, width=self._width, paint=paint)
            with reporter.aside():
                print("\n".join(lines))

    def _flush(self, stream: BinaryIO | None) -> None:
        now = time.monotonic()
        if stream is not None and now - self._flushed_at >= _FLUSH_EVERY_S:
            self._flushed_at = now
            stream.flush()

    def _end(self, stream: BinaryIO | None, *, whole: bool) -> None:
        """Close the report with what it comes to; one that was broken off ends with its last record."""
        if stream is None:
            self._print_totals()
        elif whole:
            _print_line(stream, {"summary": self._totals.document()})
        if stream is sys.stdout.buffer:
            stream.flush()

    def _print_totals(self) -> None:
        """Print what all comes to."""
        if self._options.json:
            print(json.dumps(self._totals.document(), ensure_ascii=False), flush=True)
        else:
            print("\n".join(_summary(self._totals, self._regrading.book.language)), flush=True)


def _summary(totals: Totals, language: str) -> Iterator[str]:
    messages = messages_in(language)
    yield messages.say(
        "rules.regrade.summary",
        records=messages.counted("rules.records", totals.records),
        decisions=messages.counted("rules.decisions", sum(totals.decisions.values())),
        unchanged=totals.unchanged,
        erased=totals.erased,
        failed=totals.failed,
    )
    for turn, count in totals.decisions.most_common():
        before, _, after = turn.partition(" to ")
        old, new = (messages.say(f"rules.decision.{decision}") for decision in (before, after))
        yield f"  {messages.say('rules.turn', before=old, after=new)}: {count}"
    if totals.causes:
        causes = totals.causes
        yield messages.say(
            "rules.regrade.causes", field=causes["field"], measure=causes["measure"], book=causes["book"]
        )
    for rule, counts in sorted(totals.rules.items(), key=lambda item: (-item[1].total(), item[0])):
        differing = (how for how in ("new", "gone", "changed") if counts[how])
        summary = ", ".join(messages.say(f"rules.regrade.finding.{how}", count=counts[how]) for how in differing)
        yield f"  {rule}: {summary}"


def _print_line(stream: BinaryIO, line: dict[str, Any]) -> None:
    stream.write(json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode() + b"\n")


@contextmanager
def _report_file(path: Path, *, new: bool) -> Iterator[BinaryIO]:
    """The report's file, for this user alone: records are about people."""
    flags = os.O_RDWR | os.O_CREAT | (os.O_TRUNC if new else 0)
    with os.fdopen(os.open(path, flags, 0o600), "r+b") as stream:
        yield stream


class _Stop:
    """Whether Ctrl-C was pressed; pressed again, it stops at once."""

    def __init__(self) -> None:
        self.requested = False

    def ask(self, _number: int, _frame: FrameType | None) -> None:
        if self.requested:
            raise KeyboardInterrupt
        self.requested = True


@contextmanager
def _stoppable() -> Iterator[_Stop]:
    """For as long as the block runs, Ctrl-C lets the record at hand come to its end."""
    stop = _Stop()
    before = signal.signal(signal.SIGINT, stop.ask)
    try:
        yield stop
    finally:
        signal.signal(signal.SIGINT, before)
