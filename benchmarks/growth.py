"""What a record costs in a small store and in one of four times as many, the two taking turns."""

from __future__ import annotations

import io
import random
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from benchmarks.harness import Bound, Result, middle
from benchmarks.kept_drafts import OF_A_DAY, OF_A_PERSON, OF_A_VISIT, Names, drafts
from benchmarks.processor import Processor
from fitcheck.records import Draft, RecordFilter, Store, open_store
from fitcheck.records.backup import back_up
from fitcheck.records.exchange.exporting import chunks
from fitcheck.records.exchange.importing import Importer
from fitcheck.records.feed import Cursor, batch_after
from fitcheck.records.verification import verify
from fitcheck.stored.marks import dated_sheets
from fitcheck.stored.rater_report import rater_report
from fitcheck.stored.regrade import Regrading
from fitcheck.stored.visit import stored_visit
from rules import shipped_rulebook

__all__ = ["QUICK", "SEED", "Sizes", "run"]

SEED: Final = 20
MOST_GROWTH: Final = 1.15
"""How many times a record may cost at the larger size."""
MOST_P99_MS: Final = 50.0
_AT_ONCE: Final = 500
_HOW: Final = (
    "A store of {small:,} kept assessments beside one of {large:,}, both on {database}: {of_a_visit} records a visit, "
    "{of_a_person} a person, {of_a_day} a day, those of one person spread over the whole store. Microseconds on a "
    "processor, of this process and of those of the database that serve it, for a request or a record; waiting for the "
    "disk is not in them. Medians of {rounds} rounds in which the stores take turns; imported are records of another "
    "store. Each list is asked for twice: p99 is of the time by the clock that the first takes, the cost is of the "
    "second. Verification, export and backup go over the whole store: small, large and small again. Seed {seed}."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many records the small store has, how many times as many the large one; ``sqlite`` or ``postgresql``."""

    small: int = 100_000
    times: int = 4
    database: str = "sqlite"
    rounds: int = 5
    """How often each takes its turn."""
    folder: Path | None = None
    """Where SQLite's stores lie, and stay for another run; made where they are not there."""


QUICK: Final = Sizes(small=1_000, rounds=3)


@dataclass(slots=True)
class _Side:
    """One of the stores, and what is asked of it next."""

    store: Store
    names: Names
    drafts: Iterator[Draft]
    rng: random.Random
    folder: Path

    def number(self) -> int:
        """A record's, from 0."""
        return self.rng.randrange(self.names.size)


def run(sizes: Sizes) -> Result:
    """Fill two stores and have them take turns."""
    counts = (sizes.small, sizes.small * sizes.times)
    costs: defaultdict[str, tuple[list[float], list[float]]] = defaultdict(lambda: ([], []))
    waits: list[tuple[float, float]] = []
    if sizes.folder is not None:
        sizes.folder.mkdir(parents=True, exist_ok=True)
    with ExitStack() as opened:
        folder = Path(opened.enter_context(tempfile.TemporaryDirectory(prefix="fitcheck-", dir=sizes.folder)))
        databases = opened.enter_context(_databases(sizes.database, sizes.folder or folder))
        sides = [opened.enter_context(_filled(databases, size, folder)) for size in counts]
        for _ in range(sizes.rounds):
            for at, side in enumerate(sides):
                for what, cost in _round(side, databases.processor, waits):
                    costs[what][at].append(cost)
        for what, (small, large) in costs.items():
            print(f"  {what}: {middle(small):,.1f} µs, then {middle(large):,.1f} µs", file=sys.stderr, flush=True)
        for at in (0, 1, 0):
            for what, cost in _over_all(sides[at], databases.processor):
                costs[what][at].append(cost)
    rows, bounds = [], []
    for what, (small, large) in costs.items():
        few, many = middle(small), middle(large)
        rows.append((what, f"{few:,.1f} µs, then {many:,.1f} µs"))
        bounds.append(Bound(f"{what}, growth", many / few, most=MOST_GROWTH))
    whole, busy = (sorted(each)[int(0.99 * len(waits))] for each in zip(*waits, strict=True))
    rows.append(("a list, p99 of the time on a processor", f"{busy:.1f} ms"))
    bounds.append(Bound("a list, p99", whole, most=MOST_P99_MS, unit=" ms"))
    how = _HOW.format(
        small=counts[0],
        large=counts[1],
        of_a_visit=OF_A_VISIT,
        of_a_person=OF_A_PERSON,
        of_a_day=OF_A_DAY,
        database=sizes.database,
        rounds=sizes.rounds,
        seed=SEED,
    )
    return Result(
        "growth", "What grows with the records", how, tuple(rows), tuple(bounds), ("sqlalchemy", "durable-rules")
    )


@dataclass(frozen=True, slots=True)
class _Databases:
    """Where stores are made, and what counts the work on them."""

    url: Callable[[str], str]
    """The address of an empty database of that name."""
    processor: Processor


@contextmanager
def _databases(name: str, folder: Path) -> Iterator[_Databases]:
    if name == "sqlite":
        yield _Databases(lambda which: f"sqlite:///{folder / which}.db", Processor())
        return
    from tests.endurance.databases import postgres  # noqa: PLC0415  (a server of its own, only for this)

    with postgres() as server:
        address = sa.make_url(server.url).set(drivername="postgresql+psycopg")
        engine = sa.create_engine(address, isolation_level="AUTOCOMMIT")

        def made(which: str) -> str:
            with engine.connect() as connection:
                connection.exec_driver_sql(f"DROP DATABASE IF EXISTS {which}")
                connection.exec_driver_sql(f"CREATE DATABASE {which}")
            return address.set(drivername="postgresql", database=which).render_as_string(hide_password=False)

        yield _Databases(made, Processor(server.process))
        engine.dispose()


@contextmanager
def _filled(databases: _Databases, size: int, folder: Path) -> Iterator[_Side]:
    coming = drafts(size, SEED)
    url = databases.url(f"records_{size}")
    with open_store(url) as store:
        there = store.head().number
        for _ in range(there, size, _AT_ONCE):
            store.keep_many(list(islice(coming, min(_AT_ONCE, size - store.head().number))))
        if store.file is None:
            # As the server does by itself within minutes, and then amid a round.
            address = sa.make_url(url).set(drivername="postgresql+psycopg")
            engine = sa.create_engine(address, isolation_level="AUTOCOMMIT")
            with engine.connect() as connection:
                connection.exec_driver_sql("VACUUM ANALYZE")
            engine.dispose()
        # What comes now is of another yard, and no record of an earlier run.
        later = drafts(size, SEED + there + 1, f"later-{there}-")
        yield _Side(store, Names(size), later, random.Random(SEED), folder)  # noqa: S311


_Cost = tuple[str, float]


def _round(side: _Side, processor: Processor, waits: list[tuple[float, float]]) -> Iterator[_Cost]:
    """What each request costs now, a few of each; ``waits`` gets the milliseconds of each list: all, on a processor."""
    store, names, book = side.store, side.names, shipped_rulebook()
    coming = list(islice(side.drafts, _KEPT))
    yield "keep", processor.microseconds(lambda: [store.keep(draft) for draft in coming]) / _KEPT
    lines = _lines(side)
    yield "import", processor.microseconds(lambda: _imported(store, lines)) / _IMPORTED
    for what, record_filter in _LISTS.items():
        asked = [(record_filter(names, side.number()), side.number() + 1) for _ in range(_LISTED)]

        costs = []
        for each, number in asked:
            begin = time.perf_counter()
            listed = partial(store.records, each, after=number if what == _LATER else None, limit=50)
            first = processor.microseconds(listed)
            waits.append(((time.perf_counter() - begin) * 1e3, first / 1e3))
            # Once more: what the larger file costs that does not lie in memory is in the waits alone.
            costs.append(processor.microseconds(listed))
        yield f"a list: {what}", sum(costs) / _LISTED
    visits = [names.visit(side.number()) for _ in range(_VISITS)]
    yield "a visit", processor.microseconds(lambda: [stored_visit(store, each, book) for each in visits]) / _VISITS
    many = min(_MANY, names.size // 2)
    after = side.rng.randrange(1, names.size - many)
    yield "regrade", processor.microseconds(lambda: _regraded(store, after, many)) / many
    yield "feed", processor.microseconds(lambda: _fed(store, after, many)) / many
    persons = [names.person(side.number()) for _ in range(_PERSONS)]
    yield "progress", processor.microseconds(lambda: _progress(store, persons)) / _PERSONS
    yield "agreement", processor.microseconds(lambda: _agreement(store, persons)) / _PERSONS


_KEPT: Final = 50
_IMPORTED: Final = 300
_LISTED: Final = 60
_VISITS: Final = 20
_MANY: Final = 200
_PERSONS: Final = 2
_LATER: Final = "from somewhere on"
_LISTS: Final[dict[str, Callable[[Names, int], RecordFilter]]] = {
    "the newest": lambda _names, _number: RecordFilter(kind="assessment"),
    _LATER: lambda _names, _number: RecordFilter(kind="assessment"),
    "of a horse": lambda names, number: RecordFilter(kind="assessment", horse=names.horse(number)),
    "of a horse's foot": lambda names, number: RecordFilter(
        kind="assessment", horse=names.horse(number), foot="left_fore"
    ),
    "of a person": lambda names, number: RecordFilter(kind="assessment", person=names.person(number)),
    "of an assessor": lambda names, number: RecordFilter(kind="assessment", assessor=f"{names.person(number)}-S0"),
    "of a visit": lambda names, number: RecordFilter(kind="assessment", visit=names.visit(number)),
    "of a stage": lambda _names, _number: RecordFilter(kind="assessment", stage="hot_fit"),
    "of a decision": lambda _names, _number: RecordFilter(kind="assessment", decision="stop_and_refer"),
    "of a person by decision": lambda names, number: RecordFilter(
        kind="assessment", person=names.person(number), decision="release"
    ),
    "that stand": lambda _names, _number: RecordFilter(kind="assessment", superseded=False, current=True),
    "kept on a day": lambda names, number: RecordFilter(
        kind="assessment", since=names.created(number)[:10], until=f"{names.created(number)[:10]}~"
    ),
    "fitted on a day": lambda names, number: RecordFilter(
        kind="assessment", first_day=names.created(number)[:10], last_day=names.created(number)[:10]
    ),
    "of a person in a time": lambda names, number: RecordFilter(
        kind="assessment", person=names.person(number), first_day=names.created(number)[:10]
    ),
}
"""Pages of 50 as clients ask for them, each with a record's number from 0 that says of whom or when."""


def _lines(side: _Side) -> bytes:
    """An export of as many records as are to be imported, out of another store."""
    with tempfile.TemporaryDirectory(dir=side.folder) as name, open_store(f"sqlite:///{name}/other.db") as other:
        other.keep_many(list(islice(side.drafts, _IMPORTED)))
        return b"".join(chunks(other.each_record(RecordFilter()), "ndjson"))


def _imported(store: Store, lines: bytes) -> None:
    taken = Importer(store, shipped_rulebook)
    if list(taken.take(io.BytesIO(lines), "ndjson")) or taken.counts["kept"] != _IMPORTED:
        raise ValueError(f"of {_IMPORTED} lines of our own export only {taken.counts} were taken in")


def _regraded(store: Store, after: int, many: int) -> None:
    regrading = Regrading(store, shipped_rulebook(), RecordFilter())
    for each in regrading.each(after=after, last=after + many):
        regrading.line(each)


def _fed(store: Store, after: int, left: int) -> None:
    [first] = store.following(after - 1, 1)
    place = Cursor.after(first.number, first.digest)
    while left > 0:
        batch = batch_after(store, place, min(left, 100))
        place, left = batch.next, left - batch.count


def _progress(store: Store, persons: list[str]) -> None:
    for person in persons:
        record_filter = RecordFilter(person=person, kind="assessment", superseded=False)
        if not list(dated_sheets(store, record_filter, shipped_rulebook())):
            raise ValueError(f"nothing of {person} was kept")


def _agreement(store: Store, persons: list[str]) -> None:
    for person in persons:
        if not rater_report(store, f"{person}-S0", f"{person}-S1", shipped_rulebook()).feet:
            raise ValueError(f"the assessors of {person} have no foot in common")


def _over_all(side: _Side, processor: Processor) -> Iterator[_Cost]:
    """What the works over the whole store cost, a record's share."""
    store, folder = side.store, side.folder
    size = store.head().number
    file, backup = folder / "all.ndjson", folder / "backup"
    yield "verify", processor.microseconds(lambda: _verified(store)) / size
    yield "export", processor.microseconds(lambda: _exported(store, file)) / size
    file.unlink()
    yield "backup", processor.microseconds(lambda: back_up(store, backup)) / size
    backup.unlink()


def _verified(store: Store) -> None:
    for fault in verify(store):
        raise ValueError(f"a record that was just kept is not as it was: {fault}")


def _exported(store: Store, file: Path) -> None:
    with file.open("wb") as stream:
        stream.writelines(chunks(store.each_record(RecordFilter()), "ndjson"))
