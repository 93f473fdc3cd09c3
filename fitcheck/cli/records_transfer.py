"""Records out of the store and into it: export, import, backup, restore."""

from __future__ import annotations

import argparse
import io
import os
import stat
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO, Final, cast

from fitcheck.cli import BAD_INPUT
from fitcheck.cli.options import add_rulebook_option, chosen_book
from fitcheck.cli.progress import Counted, Progress, add_progress_option, progress
from fitcheck.cli.record_options import add_filters, chosen_records
from fitcheck.records import Record, RecordFilter, Store
from fitcheck.records.atomic_files import whole_file
from fitcheck.records.backup import back_up, restore
from fitcheck.records.exchange.exporting import Format, chunks
from fitcheck.records.exchange.importing import Importer
from fitcheck.records.exchange.practised import practice_lines
from fitcheck.records.keys import AccessKeys
from fitcheck.records.practice import PracticeSessions, StoredPractice
from fitcheck.stored import followed

__all__ = ["configure", "sessions_besides", "write"]

_BY_SUFFIX: Final[dict[str, Format]] = {".csv": "csv", ".ndjson": "ndjson", ".jsonl": "ndjson", ".json": "ndjson"}


def configure(actions: Any) -> None:
    """Add the actions and their options."""
    export = actions.add_parser("export", help="write records as lines of JSON, or as a table")
    export.add_argument("--format", choices=("ndjson", "csv"), default="ndjson", help="lines of JSON (default), or CSV")
    export.add_argument("--output", metavar="FILE", default="-", help="where to (default: standard output)")
    add_filters(export)
    export.set_defaults(act=_export)
    taking = actions.add_parser("import", help="take in an export of another store, or fittings as lines of JSON")
    taking.add_argument(
        "file", metavar="FILE", help="lines of JSON or a table as export writes it; - for standard input"
    )
    taking.add_argument(
        "--format", choices=("ndjson", "csv"), help="(default: by the file's name, else its first byte)"
    )
    add_rulebook_option(taking)
    taking.set_defaults(act=_import)
    saving = actions.add_parser("backup", help="write all of the store to a file, while others use it")
    saving.add_argument("file", metavar="FILE", help="put in place when it is whole and proved")
    saving.set_defaults(act=_backup)
    restoring = actions.add_parser("restore", help="make the store what it was when a backup was written")
    restoring.add_argument("file", metavar="FILE", help="a backup")
    restoring.add_argument("--replace", action="store_true", help="lose what is in the store now, if anything")
    restoring.add_argument(
        "--keys",
        action="store_true",
        help="let the access keys of the backup open the store as they did; no chain proves them (default: revoked)",
    )
    restoring.set_defaults(act=_restore)
    for action in (export, taking, saving, restoring):
        add_progress_option(action)


def write(
    records: Iterable[Record], name: str, form: Format, practised: Iterable[StoredPractice] = ()
) -> tuple[int, int]:
    """Write records, then sessions of practice, to the file of that name, - for standard output; how many of each."""
    count = sessions = 0

    def counted() -> Iterator[Record]:
        nonlocal count
        for record in records:
            yield record
            count += 1

    with _opened(name) as stream:
        for chunk in chunks(counted(), form):
            stream.write(chunk)
        for line in practice_lines(practised):
            stream.write(line)
            sessions += 1
        stream.flush()
    return count, sessions


@contextmanager
def _opened(name: str) -> Iterator[BinaryIO]:
    if name == "-":
        yield sys.stdout.buffer
    else:
        with whole_file(Path(name)) as stream:
            yield stream


def _export(store: Store, options: argparse.Namespace) -> int:
    chosen, last = chosen_records(options), store.head().number
    # A session has no more of what records are chosen by than whose it is.
    whole = options.format == "ndjson" and chosen == RecordFilter(person=chosen.person)
    practised = PracticeSessions(store).every(chosen.person) if whole else ()
    with progress(options, "records", last, printing=options.output == "-") as reporter:
        records = _counted(store.each_record(chosen, last=last), last, reporter)
        count, sessions = write(records, options.output, options.format, practised)
    print(f"{count} written{sessions_besides(sessions)}.", file=sys.stderr)
    return 0


def sessions_besides(count: int) -> str:
    """So many sessions of practice, to be said behind the records; nothing where there is none."""
    return f", and {count} {'session' if count == 1 else 'sessions'} of practice" if count else ""


def _counted(records: Iterable[Record], last: int, reporter: Progress) -> Iterator[Record]:
    """The same records; how far the store up to number ``last`` has been gone through is told of each."""
    for record in records:
        yield record
        reporter(record.number, last)
    reporter(last, last)


def _import(store: Store, options: argparse.Namespace) -> int:
    importer = Importer(
        store,
        lambda: chosen_book(options, judging=True),
        lambda id_: followed(store, id_, chosen_book(options)),
    )
    with _source(options.file) as stream, progress(options, "B", _size(stream)) as reporter:
        form = options.format or _form(options.file, stream)
        for bad_lines in importer.take(io.BufferedReader(Counted(stream, reporter)), form):
            with reporter.aside():
                print(f"{options.file}: {bad_lines}", file=sys.stderr)
    counts = importer.counts
    practised = f"{counts['practised']} sessions of practice, " if counts["practised"] else ""
    print(
        f"{counts['kept']} records taken in, {counts['assessed']} fittings assessed and kept, {practised}"
        f"{counts['known']} known already, {counts['erased']} erased and passed over, {counts['bad']} bad."
    )
    return BAD_INPUT if counts["bad"] else 0


@contextmanager
def _source(name: str) -> Iterator[io.BufferedReader]:
    if name == "-":
        yield cast("io.BufferedReader", sys.stdin.buffer)
    else:
        with Path(name).open("rb") as stream:
            yield stream


def _size(stream: io.BufferedReader) -> int | None:
    """How many bytes it has, where it is a file."""
    try:
        found = os.fstat(stream.fileno())
    except io.UnsupportedOperation:
        return None
    return found.st_size if stat.S_ISREG(found.st_mode) else None


def _form(name: str, stream: io.BufferedReader) -> Format:
    if (form := _BY_SUFFIX.get(Path(name).suffix.lower())) is not None:
        return form
    return "ndjson" if stream.peek(1).lstrip()[:1] in {b"", b"{"} else "csv"


def _backup(store: Store, options: argparse.Namespace) -> int:
    with progress(options, "records") as reporter:
        head = back_up(store, Path(options.file), on_progress=reporter)
    print(f"{options.file}: {head.number} records, proved. Head: {head.number}:{head.digest}")
    return 0


def _restore(store: Store, options: argparse.Namespace) -> int:
    before = {key.id for key in AccessKeys(store).every()}
    erasures = _erasures(store)
    with progress(options, "records") as reporter:
        head = restore(Path(options.file), store, replace=options.replace, keys=options.keys, on_progress=reporter)
    print(f"{head.number} records restored, proved. Head: {head.number}:{head.digest}")
    new = [key for key in AccessKeys(store).every() if key.id not in before]
    opening = [key for key in new if key.revoked is None]
    if opening:
        names = ", ".join(f"{key.id} ({key.name}: {' '.join(sorted(key.scopes))})" for key in opening)
        print(
            f"Access keys of the backup that open it now: {names}. No chain proves them: revoke what you do not know, "
            "and what was revoked since."
        )
    elif new:
        print(f"{len(new)} access keys of the backup are revoked. Make new ones, or restore with --keys.")
    if undone := erasures - _erasures(store):
        were = "1 erasure was" if undone == 1 else f"{undone} erasures were"
        print(f"{were} made since that backup: who was erased is there again. Erase anew.")
    return 0


def _erasures(store: Store) -> int:
    return sum(1 for _ in store.each_record(RecordFilter(kind="erasure")))
