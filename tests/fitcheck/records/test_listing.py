"""Lists go through few records whatever is asked for, and have what a reading of all of them would have."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from fitcheck.records import Draft, Record, RecordFilter, Store, open_store, verify

Make = Callable[..., Draft]
SEED = 20


def fill(store: Store, draft: Make) -> None:
    """60 records of a few horses, persons, visits and days; some are corrected, some say no day of their own."""
    chance = random.Random(SEED)
    ids: list[str] = []
    for number in range(60):
        day = f"2026-03-{chance.randrange(1, 9):02}"
        about = ids.pop(chance.randrange(len(ids))) if ids and chance.random() < 0.2 else None
        made = draft(
            about=about,
            source="sha256:" + "a" * 64,
            created=f"2026-03-{chance.randrange(1, 9):02}T10:00:{number:02}.000Z",
            fitted=day if chance.random() < 0.5 else None,
            horse=f"H-{chance.randrange(3)}",
            person=f"A-{chance.randrange(3)}",
            visit=f"V-{chance.randrange(9)}",
            stage=chance.choice(("hot_fit", "nailed")),
            decision=chance.choice(("release", "put_right")),
        )
        ids.append(store.keep(made).record.id)


def wanted(record: Record, of: RecordFilter, corrected: set[str | None]) -> bool:
    """Whether the record is one that is asked for, by its meaning."""
    equal = ("horse", "person", "visit", "stage", "decision", "kind")
    if any(getattr(of, name) not in {None, getattr(record, name)} for name in equal):
        return False
    day = record.fitted or record.created[:10]
    return (
        (of.since is None or record.created >= of.since)
        and (of.until is None or record.created < of.until)
        and (of.first_day is None or day >= of.first_day)
        and (of.last_day is None or day <= of.last_day)
        and (of.superseded or record.id not in corrected)
    )


@pytest.mark.parametrize("few", [0, 7, 5_000])
def test_a_list_has_what_a_reading_of_all_records_has(
    store: Store, draft: Make, few: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fitcheck.records.listing._FEW", few)
    fill(store, draft)
    every = store.following(0, 100)
    corrected = {record.about for record in every}
    chance = random.Random(SEED)
    seen = 0
    for _ in range(120):
        asked: dict[str, Any] = {
            "kind": "assessment",
            "horse": f"H-{chance.randrange(3)}",
            "person": f"A-{chance.randrange(3)}",
            "visit": f"V-{chance.randrange(9)}",
            "stage": "hot_fit",
            "decision": "release",
            "since": "2026-03-03",
            "until": f"2026-03-{chance.randrange(4, 9):02}",
            "first_day": f"2026-03-{chance.randrange(1, 6):02}",
            "last_day": f"2026-03-{chance.randrange(3, 9):02}",
            "superseded": False,
        }
        of = RecordFilter(**{name: value for name, value in asked.items() if chance.random() < 0.3})
        after, newest_first = chance.choice((None, 20, 45)), chance.random() < 0.5
        expected = [record.number for record in every if wanted(record, of, corrected)]
        assert store.count(of) == len(expected)
        if after is not None:
            expected = [number for number in expected if (number < after if newest_first else number > after)]
        found = store.records(of, after=after, newest_first=newest_first, limit=5)
        assert [record.number for record in found] == (expected[::-1] if newest_first else expected)[:5]
        seen += len(found)
    assert seen > 120


@pytest.mark.parametrize(
    ("of", "index"),
    [
        (RecordFilter(kind="assessment", horse="H-1"), "records_horse"),
        (RecordFilter(kind="assessment", horse="H-1", foot="left_fore", decision="release"), "records_horse"),
        (RecordFilter(kind="assessment", person="A-1", decision="release", first_day="2026-03-01"), "records_person"),
        (RecordFilter(kind="override", assessor="A-1"), "records_assessor"),
        (RecordFilter(kind="assessment", visit="V-1", superseded=False), "records_visit"),
        (RecordFilter(kind="assessment", decision="release"), "records_decision"),
        (RecordFilter(kind="assessment", since="2026-03-01", until="2026-03-02"), "records_created"),
        (RecordFilter(kind="assessment", first_day="2026-03-01", last_day="2026-03-01"), "records_day"),
        (RecordFilter(kind="erasure"), "records_kind"),
        (RecordFilter(kind="assessment"), "PRIMARY KEY"),
    ],
)
def test_sqlite_is_led_by_the_narrowest_column(sqlite_store: Store, draft: Make, of: RecordFilter, index: str) -> None:
    """Without statistics SQLite would go through all assessments for the few of a horse."""
    sqlite_store.keep(draft())
    statements: list[tuple[str, Any]] = []
    sa.event.listen(
        sqlite_store._engine, "before_cursor_execute", lambda *given: statements.append((given[2], given[3]))
    )
    sqlite_store.records(of, after=100, limit=50)
    statement, values = statements[-1]
    with sqlite_store.reading() as connection:
        plan = [row[-1] for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values)]
    assert any(index in step for step in plan if " records " in step), plan
    others = {"records_kind", "records_decision", "records_horse", "records_person", "records_created"} - {index}
    assert not any(other in step for step in plan for other in others if "records_about" not in step), plan


PAGES: dict[str, Callable[[Store], object]] = {
    "a list": lambda store: store.records(RecordFilter(kind="assessment"), after=700, limit=20),
    "an export": lambda store: store.records(RecordFilter(), after=500, newest_first=False, limit=20),
    "all verified": lambda store: list(verify(store)),
}


@pytest.mark.parametrize("page", PAGES)
def test_postgresql_goes_through_no_content_before_the_page_that_is_asked_for(
    postgres_url: str, draft: Make, page: str
) -> None:
    """By its own count of rows, where it goes through records and contents side by side as it does in large stores."""
    with open_store(postgres_url) as store:
        store.keep_many([draft(visit=f"V-{number}") for number in range(1000)])
        statements: list[tuple[str, Any]] = []
        sa.event.listen(store._engine, "before_cursor_execute", lambda *given: statements.append((given[2], given[3])))
        PAGES[page](store)
        pages = [each for each in statements if "LEFT OUTER JOIN contents" in each[0]]
        assert pages
        with store.reading() as connection:
            connection.exec_driver_sql("ANALYZE records; ANALYZE contents")
            connection.exec_driver_sql(
                "SET enable_hashjoin = off; SET enable_nestloop = off; SET enable_seqscan = off; SET enable_sort = off"
            )
            for statement, values in pages:
                plan = connection.exec_driver_sql(f"EXPLAIN (ANALYZE, FORMAT JSON) {statement}", values).scalar_one()
                seen = [
                    node["Actual Rows"] for node in nodes(plan[0]["Plan"]) if node.get("Relation Name") == "contents"
                ]
                assert seen
                assert max(seen) <= 205, plan  # pages of verification have 200


def nodes(plan: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """The plan and all that lies below it."""
    yield plan
    for below in plan.get("Plans", ()):
        yield from nodes(below)


def test_a_list_takes_as_many_steps_in_a_store_of_four_times_as_many(sqlite_url: str, draft: Make) -> None:
    """Counted by SQLite itself (https://www.sqlite.org/c3ref/progress_handler.html), whatever else the machine does."""
    of_day, of_horse = 20, 8
    day = _kept_at(2)[:10]
    asked: dict[str, dict[str, Any]] = {
        "horse": {"horse": "H-7"},
        "person": {"person": "A-7", "decision": "release"},
        "visit": {"visit": "V-7", "superseded": False, "current": True},
        "kept": {"since": day, "until": f"{day}~"},
        "fitted": {"first_day": day, "last_day": day},
    }
    counted: list[dict[str, int]] = []
    for size in (400, 1600):
        with open_store(sqlite_url.replace(".sqlite3", f"-{size}.sqlite3")) as store:
            store.keep_many(
                [
                    draft(
                        horse=f"H-{number % (size // of_horse)}",
                        person=f"A-{number % (size // of_horse)}",
                        visit=f"V-{number // 4}",
                        created=_kept_at(number // of_day),
                        fitted=_kept_at(number // of_day)[:10] if number % 2 else None,
                        source="sha256:" + "a" * 64,
                    )
                    for number in range(size)
                ]
            )
            counted.append({name: _steps(store, RecordFilter(kind="assessment", **of)) for name, of in asked.items()})
    few, many = counted
    assert min(few.values()) > 20
    assert {name: steps / few[name] for name, steps in many.items() if steps > 1.1 * few[name]} == {}


def _kept_at(day: int) -> str:
    return f"{(date(2026, 1, 1) + timedelta(days=day)).isoformat()}T10:00:00.000Z"


def _steps(store: Store, of: RecordFilter) -> int:
    """How many steps of its machine SQLite takes for a list, by fives."""
    steps = 0

    def step() -> int:
        nonlocal steps
        steps += 5
        return 0

    def count(connection: Any, _record: object, _proxy: object) -> None:
        connection.set_progress_handler(step, 5)

    sa.event.listen(store._engine, "checkout", count)
    assert store.records(of, limit=50)
    sa.event.remove(store._engine, "checkout", count)
    with store.reading() as connection:
        connection.connection.driver_connection.set_progress_handler(None, 5)  # type: ignore[union-attr]
    return steps
