"""What one store gives out another takes in, line by line, and whatever is wrong spoils only its own line."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fitcheck.errors import BadInput
from fitcheck.records import Draft, Record, RecordFilter, Store, open_store, verify
from fitcheck.records.exchange.exporting import Format, chunks, of_person
from fitcheck.records.exchange.importing import BadLine, Importer
from rules import shipped_rulebook
from tests.support.kept_fittings import demo_bodies, kept_fittings

Make = Callable[..., Draft]
FORMS: tuple[Format, ...] = ("ndjson", "csv")


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Store]:
    """The store that records come from."""
    with open_store(f"sqlite:///{tmp_path / 'other.sqlite3'}") as opened:
        yield opened


def exported(store: Store, form: Format = "ndjson", wanted: RecordFilter | None = None) -> bytes:
    return b"".join(chunks(store.each_record(wanted or RecordFilter()), form))


def taken(store: Store, lines: bytes, form: Format = "ndjson") -> tuple[dict[str, int], list[BadLine]]:
    importer = Importer(store, shipped_rulebook)
    spoilt = list(importer.take(io.BytesIO(lines), form))
    assert list(verify(store)) == []
    return {str(what): count for what, count in importer.counts.items() if count}, spoilt


def without_chain(record: Record) -> dict[str, Any]:
    chain = {"number", "salt", "content_digest", "previous", "digest", "source"}
    return {name: getattr(record, name) for name in Record.__dataclass_fields__ if name not in chain}


@pytest.mark.parametrize("form", FORMS)
def test_what_is_exported_imported_and_exported_again_is_the_same(store: Store, other: Store, form: Format) -> None:
    originals = other.keep_many([*kept_fittings(5)])
    correction = replace(next(kept_fittings(1)), about=originals[0].id)
    originals.append(other.keep(correction).record)
    assert taken(store, exported(other, form), form) == ({"kept": 6}, [])
    records = list(store.each_record(RecordFilter()))
    assert [without_chain(record) for record in records] == [without_chain(record) for record in originals]
    assert [record.source for record in records] == [record.digest for record in originals]
    assert [record.number for record in records] == [1, 2, 3, 4, 5, 6]
    # A third store, from the second's export: nothing wears off.
    again = exported(store, form)
    with open_store(other.url.replace("other", "third")) as third:
        assert taken(third, again, form) == ({"kept": 6}, [])
        records_again = list(third.each_record(RecordFilter()))
    assert [without_chain(record) for record in records_again] == [without_chain(record) for record in originals]
    assert [record.source for record in records_again] == [record.digest for record in records]


@pytest.mark.parametrize("form", FORMS)
def test_what_is_known_by_its_id_is_passed_over_and_counted(store: Store, other: Store, form: Format) -> None:
    other.keep_many([*kept_fittings(3)])
    lines = exported(other, form)
    taken(store, lines, form)
    other.keep_many([*kept_fittings(1)])
    assert taken(store, exported(other, form), form) == ({"kept": 1, "known": 3}, [])
    assert taken(other, lines, form) == ({"known": 3}, [])
    # Twice in one file.
    body = lines.split(b"\r\n", 1)[1] if form == "csv" else lines
    assert taken(store, lines + body, form) == ({"known": 6}, [])


def test_a_record_that_stands_twice_in_one_file_is_kept_once(store: Store, other: Store) -> None:
    other.keep_many([*kept_fittings(2)])
    assert taken(store, exported(other) * 2) == ({"kept": 2, "known": 2}, [])
    assert store.head().number == 2


def test_fittings_are_assessed_and_kept_with_their_bytes_once(store: Store) -> None:
    bodies = [json.dumps(json.loads(body)).encode() for body in demo_bodies()[:3]]
    lines = b"\n".join([bodies[0], b"", bodies[1], bodies[2] + b"\r"])
    assert taken(store, lines) == ({"assessed": 3}, [])
    records = list(store.each_record(RecordFilter()))
    assert [record.received for record in records] == bodies
    assert [json.loads(record.answer)["decision"] for record in records] == [record.decision for record in records]
    assert taken(store, lines) == ({"known": 3}, [])


def test_records_and_fittings_may_stand_in_one_file_and_keep_their_order(store: Store, other: Store) -> None:
    first, second = other.keep_many([*kept_fittings(2)])
    one, two = exported(other).splitlines()
    fitting = json.dumps(json.loads(demo_bodies()[0])).encode()
    assert taken(store, b"\n".join([one, fitting, two]))[0] == {"kept": 2, "assessed": 1}
    ids = [record.id for record in store.each_record(RecordFilter())]
    assert (ids[0], ids[2]) == (first.id, second.id)


def changed(line: bytes, **values: Any) -> bytes:
    return json.dumps(json.loads(line) | values).encode()


def test_a_bad_line_is_told_with_its_number_and_field_and_spoils_only_itself(store: Store, other: Store) -> None:
    other.keep_many([*kept_fittings(9)])
    good = exported(other).splitlines()
    fitting = json.loads(demo_bodies()[0])
    lines = [
        good[0],
        b"{",
        b"[1]",
        changed(good[1], person="A-77"),
        changed(good[2], colour="bay"),
        changed(good[3], digest="sha256:" + "0" * 64),
        b"\xff",
        json.dumps(fitting | {"foot": "middle"}).encode(),
        b'{"observations": {}}',
        json.dumps(fitting | {"person": {"id": "Given Family"}}).encode(),
        b'{"a": 1, "a": 2}',
        good[4],
    ]
    counts, spoilt = taken(store, b"\n".join(lines))
    assert counts == {"kept": 2, "bad": 10}
    assert [(each.line, each.problem.field) for each in spoilt] == [
        (2, "(document)"),
        (3, "(document)"),
        (4, "content_digest"),
        (5, "colour"),
        (6, "digest"),
        (7, "(document)"),
        (8, "foot"),
        (9, "foot"),
        (10, "person.id"),
        (11, "(document)"),
    ]
    assert all(each.problem.allowed and each.problem.detail for each in spoilt)


def test_a_bad_row_spoils_only_itself(store: Store, other: Store) -> None:
    other.keep_many([*kept_fittings(4)])
    heading, *rows = [*chunks(other.each_record(RecordFilter()), "csv")]
    rows[1] = rows[1].replace(b",assessment,", b",note,", 1)
    rows[2] = b"only,three,cells\r\n"
    counts, spoilt = taken(store, b"".join([heading, *rows]), "csv")
    assert counts == {"kept": 2, "bad": 2}
    assert [each.problem.field for each in spoilt] == ["kind", "(document)"]
    assert spoilt[0].line == 2 + rows[0].count(b"\n")


@pytest.mark.parametrize("first", [b'"', b'number,"id', b'"number"x,id\r\n'])
def test_a_first_row_that_cannot_be_read_is_bad_input(store: Store, first: bytes) -> None:
    with pytest.raises(BadInput, match="first row"):
        taken(store, first, "csv")
    assert store.head().number == 0


def test_another_record_of_a_known_id_is_told(store: Store, other: Store) -> None:
    (one,) = kept_fittings(1)
    store.keep(one)
    other.keep(replace(one, received=one.received + b" "))
    counts, (spoilt,) = taken(store, exported(other))
    assert counts == {"bad": 1}
    assert (spoilt.line, spoilt.problem.field, spoilt.problem.value) == (1, "id", one.id)
    assert store.head().number == 1


def test_a_correction_of_what_is_not_here_is_told_and_the_others_are_kept(store: Store, other: Store) -> None:
    first, second, third = kept_fittings(3)
    other.keep_many([first, replace(second, about=first.id), third])
    lines = exported(other).splitlines()
    counts, (spoilt,) = taken(store, b"\n".join(lines[1:]))
    assert counts == {"kept": 1, "bad": 1}
    assert (spoilt.line, spoilt.problem.field, spoilt.problem.value) == (1, "about", first.id)
    assert taken(store, b"\n".join(lines)) == ({"kept": 2, "known": 1}, [])


def test_a_fitting_of_a_second_horse_under_one_visit_is_told_and_the_others_are_kept(store: Store) -> None:
    body = demo_bodies()[0]
    lines = [json.dumps(json.loads(body) | {"visit": "v", "horse": {"id": horse}}) for horse in ("H-1", "H-2", "H-1")]
    lines[2] = lines[2].replace('"v"', '"v" ')
    counts, [bad] = taken(store, "\n".join(lines).encode())
    assert counts == {"assessed": 2, "bad": 1}
    assert (bad.line, bad.problem.field, bad.problem.value) == (2, "horse.id", "H-2")


@pytest.mark.parametrize("form", FORMS)
def test_what_was_erased_there_is_passed_over(store: Store, other: Store, form: Format) -> None:
    first, *_ = other.keep_many([*kept_fittings(3)])
    person = first.person
    assert person is not None
    gone = sum(1 for _ in of_person(other, person))
    other.erase(person, reason="asked for", created="2026-04-01T09:00:00.000Z")
    assert taken(store, exported(other, form), form) == ({"kept": 3 - gone, "erased": gone + 1}, [])


def test_who_was_erased_here_does_not_come_back_with_an_older_export(store: Store, other: Store) -> None:
    other.keep_many([*kept_fittings(3)])
    lines = exported(other)
    taken(store, lines)
    person = next(store.each_record(RecordFilter())).person
    assert person is not None
    store.erase(person, reason="asked for", created="2026-04-01T09:00:00.000Z")
    assert taken(store, lines) == ({"known": 3}, [])
    assert list(of_person(store, person)) == []


def test_only_what_is_wanted_is_exported_and_nothing_that_comes_meanwhile(store: Store) -> None:
    kept = store.keep_many([*kept_fittings(7)])
    assert [record.id for record in store.each_record(RecordFilter(horse="H-3"))] == [kept[2].id]
    going = store.each_record(RecordFilter())
    next(going)
    store.keep_many([*kept_fittings(1)])
    assert len([*going]) == 6
    assert len([*store.each_record(RecordFilter(), after=5)]) == 3


def test_a_person_is_found_as_who_fitted_and_as_who_assessed_each_record_once(store: Store, draft: Make) -> None:
    store.keep_many(
        [
            draft(person="A-1", assessor="S-1"),
            draft(person="A-2", assessor="A-1"),
            draft(person="A-1", assessor="A-1"),
            draft(person="A-10", assessor=None),
            draft(person="A-1", assessor=None),
        ]
    )
    assert [record.number for record in of_person(store, "A-1")] == [1, 2, 3, 5]
