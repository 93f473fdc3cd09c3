"""What a record costs when the store has few of them and when it has four times as many."""

from __future__ import annotations

import json
import random
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from itertools import count, islice
from pathlib import Path
from typing import Final, TypeVar

from benchmarks.harness import Bound, Result, documents, middle
from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting
from fitcheck.records import Draft, RecordFilter, Store, draft_of, open_store
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

__all__ = ["QUICK", "Sizes", "run"]

_Each = TypeVar("_Each")

MOST_GROWTH: Final = 1.15
"""How many times a record may cost at the larger size."""
MOST_P99_MS: Final = 50.0
_FEET: Final = ("left_fore", "right_fore", "left_hind", "right_hind")
_OF_A_PERSON: Final = 200
"""Each person fits so many feet, and two assessors go over each: what is asked of one person does not grow."""
_SINGLES: Final = 200
_MANY: Final = 2000
_AT_ONCE: Final = 500
_HOW: Final = (
    "A store of {small:,} kept assessments, then of {large:,}: visits of four feet, {of_a_person} feet a person. "
    "Keeping, lists and visits one at a time, {singles} of them, medians; verification, export, import into an empty "
    "store and backup over all, a record's share; regrading and the feed over {many:,} records; progress and agreement "
    "of one person. On {database}."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many records at first, how many times as many then, on which database: ``sqlite`` or ``postgresql``."""

    small: int = 100_000
    times: int = 4
    database: str = "sqlite"


QUICK: Final = Sizes(small=2_000)


def run(sizes: Sizes) -> Result:
    """Fill, measure, fill up, measure."""
    large = sizes.small * sizes.times
    with tempfile.TemporaryDirectory(prefix="fitcheck-") as name, _database(sizes.database, Path(name)) as url:
        drafts = _drafts()
        with open_store(url) as store:
            figures = []
            for size in (sizes.small, large):
                _fill(store, drafts, size)
                figures.append(_measured(store, drafts, Path(name)))
    rows, bounds = [], []
    for what, few in figures[0].items():
        many = figures[1][what]
        rows.append((what, f"{few:,.1f} µs, then {many:,.1f} µs"))
        if what == _LIST_P99:
            bounds.append(Bound(what, many / 1000, most=MOST_P99_MS, unit=" ms"))
        else:
            bounds.append(Bound(f"{what}, growth", many / few, most=MOST_GROWTH))
    how = _HOW.format(
        small=sizes.small,
        large=large,
        of_a_person=_OF_A_PERSON,
        singles=_SINGLES,
        many=_MANY,
        database=sizes.database,
    )
    return Result(
        "growth", "What grows with the records", how, tuple(rows), tuple(bounds), ("sqlalchemy", "durable-rules")
    )


@contextmanager
def _database(name: str, folder: Path) -> Iterator[str]:
    if name == "sqlite":
        yield f"sqlite:///{folder / 'records.db'}"
        return
    from tests.endurance.databases import postgres  # noqa: PLC0415  (a server of its own, only for this)

    with postgres() as server:
        yield server.url


def _drafts() -> Iterator[Draft]:
    """Drafts without end: the day book's fittings over and over, each visit of another horse."""
    made = []
    for document in documents(200):
        fitting = Fitting.model_validate(document)
        made.append((document, draft_of(json.dumps(document).encode(), fitting, assess(fitting))))
    for number in count():
        document, draft = made[number % len(made)]
        visit, person = f"V-{number // 4}", f"A-{number // _OF_A_PERSON}"
        id_, foot = f"a-{number:09}", _FEET[number % 4]
        sent = document | {
            "foot": foot,
            "horse": {"id": f"H-{number // 4}"},
            "visit": visit,
            "person": {"id": person, "role": "apprentice"},
            "assessor": {"id": f"{person}-S{number % 2}"},
        }
        answer = json.loads(draft.answer) | {"id": id_, "foot": foot}
        yield replace(
            draft,
            id=id_,
            foot=foot,
            horse=f"H-{number // 4}",
            visit=visit,
            person=person,
            assessor=sent["assessor"]["id"],
            received=json.dumps(sent).encode(),
            answer=json.dumps(answer, separators=(",", ":")).encode(),
        )


def _fill(store: Store, drafts: Iterator[Draft], size: int) -> None:
    while (left := size - store.head().number) > 0:
        store.keep_many(list(islice(drafts, min(left, _AT_ONCE))))


_LIST_P99: Final = "a list, p99"


def _measured(store: Store, drafts: Iterator[Draft], folder: Path) -> dict[str, float]:
    """Microseconds a record, or a request, of each work."""
    size, rng, book = store.head().number, random.Random(20), shipped_rulebook()  # noqa: S311
    persons = [f"A-{rng.randrange(size // _OF_A_PERSON)}" for _ in range(5)]
    lists = [_microseconds(_list(store, rng, size)) for _ in range(_SINGLES)]
    file, copy = folder / "all.ndjson", folder / "copy.db"
    many = min(_MANY, size // 2)
    visits = [f"V-{rng.randrange(size // 4)}" for _ in range(_SINGLES)]
    found = {
        "keep": _typical(store.keep, islice(drafts, _SINGLES)),
        "a list": middle(lists),
        _LIST_P99: sorted(lists)[int(0.99 * len(lists))],
        "a visit": _typical(lambda visit: stored_visit(store, visit, book), visits),
        "verify": _microseconds(lambda: list(verify(store))) / size,
        "export": _microseconds(lambda: _exported(store, file)) / size,
        "import": _microseconds(lambda: _imported(file, copy)) / size,
        "backup": _microseconds(lambda: back_up(store, folder / "backup")) / size,
        "regrade": _microseconds(lambda: _regraded(store, size, many)) / many,
        "feed": _microseconds(lambda: _fed(store, size - many, many)) / many,
        "progress": _typical(lambda person: list(dated_sheets(store, RecordFilter(person=person), book)), persons),
        "agreement": _typical(lambda person: rater_report(store, f"{person}-S0", "tool", book), persons),
    }
    for each in (file, copy, folder / "backup"):
        each.unlink(missing_ok=True)
    return found


def _typical(work: Callable[[_Each], object], over: Iterable[_Each]) -> float:
    """The median of the microseconds of ``work`` on each."""
    return middle([_microseconds(partial(work, each)) for each in over])


def _microseconds(work: Callable[[], object]) -> float:
    begin = time.perf_counter()
    work()
    return (time.perf_counter() - begin) * 1e6


def _list(store: Store, rng: random.Random, size: int) -> Callable[[], object]:
    """One page of 50 as clients ask for it: the newest, from somewhere on, of a horse, of a person, of a decision."""
    which = rng.randrange(5)
    wanted = (
        RecordFilter(),
        RecordFilter(),
        RecordFilter(horse=f"H-{rng.randrange(size // 4)}"),
        RecordFilter(person=f"A-{rng.randrange(size // _OF_A_PERSON)}"),
        RecordFilter(decision="stop_and_refer", superseded=False),
    )[which]
    after = rng.randrange(1, size) if which == 1 else None
    return lambda: store.records(wanted, after=after, limit=50)


def _exported(store: Store, file: Path) -> None:
    with file.open("wb") as stream:
        stream.writelines(chunks(store.each_record(RecordFilter()), "ndjson"))


def _imported(file: Path, copy: Path) -> None:
    with open_store(f"sqlite:///{copy}") as store, file.open("rb") as stream:
        for _ in Importer(store, shipped_rulebook).take(stream, "ndjson"):
            raise ValueError("a line of our own export was refused")


def _regraded(store: Store, size: int, many: int) -> None:
    regrading = Regrading(store, shipped_rulebook(), RecordFilter())
    for each in regrading.each(after=size - many, last=size):
        regrading.line(each)


def _fed(store: Store, after: int, left: int) -> None:
    [first] = store.following(after - 1, 1)
    place = Cursor.after(first.number, first.digest)
    while left > 0:
        batch = batch_after(store, place, min(left, 100))
        place, left = batch.next, left - batch.count
