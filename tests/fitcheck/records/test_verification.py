"""Whatever is changed in a store behind its back is found, and told with its number."""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import sqlalchemy as sa

from fitcheck.records import GENESIS, Draft, Fault, Head, Store
from fitcheck.records import verify as verify_at_once
from fitcheck.records.chain import content_digest, record_digest
from fitcheck.records.ranged_verification import verify_ranges, verify_with
from fitcheck.records.tables import PERSONAL, contents, head, records
from tests.support.tampering import tamper, told, unguarded

Make = Callable[..., Draft]
_LAST = 5
_EDITED = (1, 3, _LAST)
"""The first, one in the middle and the last."""


def verify(store: Store, *, expected: Head | None = None) -> Iterator[Fault]:
    """The faults of the store, which must be the same by ranges of whatever size."""
    faults = list(verify_at_once(store, expected=expected))
    for size in (1, 2):
        assert list(verify_with(map, store, expected=expected, size=size)) == faults
    return iter(faults)


@pytest.fixture
def kept(store: Store, draft: Make) -> Store:
    """A store of five records, the fourth corrected by the fifth, whose guards are off."""
    given = [draft(source="sha256:" + "a" * 64) for _ in range(_LAST)]
    given[4] = draft(about=given[3].id)
    store.keep_many(given)
    assert list(verify(store)) == []
    return unguarded(store)


def row_of(store: Store, number: int) -> dict[str, Any]:
    with store._engine.connect() as connection:
        return connection.execute(sa.select(records).where(records.c.number == number)).one()._asdict()


def test_an_edit_of_any_column_of_a_record_is_found(kept: Store) -> None:
    for name in (column.name for column in records.c if column.name != "number"):
        for number in _EDITED:
            was = row_of(kept, number)[name]
            tamper(kept, records.update().where(records.c.number == number).values({name: f"{was}x"}))
            faults = told(kept)
            assert {found for found, _ in faults} == {number}, name
            assert (number, "content" if name in PERSONAL else "edited") in faults, name
            tamper(kept, records.update().where(records.c.number == number).values({name: was}))
    assert told(kept) == []


def test_a_name_that_is_cleared_without_an_erasure_is_found(kept: Store) -> None:
    for name in PERSONAL:
        was = row_of(kept, 2)[name]
        tamper(kept, records.update().where(records.c.number == 2).values({name: None}))
        assert told(kept) == [(2, "content")], name
        tamper(kept, records.update().where(records.c.number == 2).values({name: was}))


def test_a_changed_number_is_found(kept: Store) -> None:
    tamper(
        kept,
        contents.update().where(contents.c.number == _LAST).values(number=9),
        records.update().where(records.c.number == _LAST).values(number=9),
    )
    assert (5, "missing") in told(kept)
    assert (9, "edited") in told(kept)


@pytest.mark.parametrize("number", [0, -3])
def test_a_number_below_the_first_is_found(kept: Store, number: int) -> None:
    tamper(kept, records.insert().values(row_of(kept, 1) | {"number": number, "id": "x"}))
    assert told(kept) == [(number, "inserted")]


@pytest.mark.parametrize(
    ("name", "value"), [("salt", "00" * 16), ("received", b'{"foot": "right_fore"}'), ("answer", b"")]
)
def test_an_edited_content_is_found(kept: Store, name: str, value: object) -> None:
    for number in _EDITED:
        tamper(kept, contents.update().where(contents.c.number == number).values({name: value}))
    assert told(kept) == [(number, "content") for number in _EDITED]


@pytest.mark.parametrize("number", _EDITED)
def test_a_removed_record_is_found(kept: Store, number: int) -> None:
    tamper(
        kept,
        contents.delete().where(contents.c.number == number),
        records.delete().where(records.c.number == number),
    )
    assert told(kept) == [(number, "missing")]


def test_several_removed_in_a_row_are_told_at_once(kept: Store) -> None:
    tamper(
        kept,
        contents.delete().where(contents.c.number.in_([2, 3])),
        records.delete().where(records.c.number.in_([2, 3])),
    )
    fault, *guards = verify(kept)
    assert {each.kind for each in guards} == {"guard"}
    assert fault == Fault(2, "missing", "Records 2 to 3 are missing.")
    assert str(fault) == "2: Records 2 to 3 are missing."


def test_an_emptied_store_is_found(kept: Store) -> None:
    tamper(kept, contents.delete(), records.delete())
    assert told(kept) == [(1, "missing")]


@pytest.mark.parametrize("number", _EDITED)
def test_a_removed_content_is_found(kept: Store, number: int) -> None:
    tamper(kept, contents.delete().where(contents.c.number == number))
    assert told(kept) == [(number, "content-missing")]


def test_a_content_without_a_record_is_found(kept: Store) -> None:
    tamper(kept, contents.insert().values(number=77, salt="00", received=b"", answer=b""))
    assert told(kept) == [(77, "inserted")]


@pytest.mark.parametrize(("one", "other"), [(1, 2), (2, 4), (4, _LAST)])
def test_two_records_that_changed_places_are_found(kept: Store, one: int, other: int) -> None:
    def moved(table: sa.Table, number: int, to: int) -> sa.Update:
        return table.update().where(table.c.number == number).values(number=to)

    steps = ((one, 99), (other, one), (99, other))
    tamper(kept, *(moved(table, *step) for table in (contents, records) for step in steps))
    found = told(kept)
    assert {(one, "edited"), (other, "edited")} <= set(found)
    assert (one, "link") in found


def test_two_contents_that_changed_places_are_found(kept: Store) -> None:
    def moved(number: int, to: int) -> sa.Update:
        return contents.update().where(contents.c.number == number).values(number=to)

    tamper(kept, moved(2, 99), moved(4, 2), moved(99, 4))
    assert told(kept) == [(2, "content"), (4, "content")]


def test_a_record_inserted_at_the_end_is_found(kept: Store) -> None:
    made = row_of(kept, _LAST)
    made |= {"number": _LAST + 1, "id": "made-up", "previous": made["digest"]}
    made["content_digest"] = content_digest("00" * 16, b"{}", b"{}", made)
    made["digest"] = record_digest(made)
    tamper(
        kept,
        records.insert().values(made),
        contents.insert().values(number=_LAST + 1, salt="00" * 16, received=b"{}", answer=b"{}"),
    )
    assert told(kept) == [(_LAST + 1, "inserted")]


def test_a_record_copied_to_the_end_with_the_head_moved_is_found(kept: Store) -> None:
    copy = row_of(kept, 2) | {"number": _LAST + 1, "id": "copy"}
    tamper(kept, records.insert().values(copy), head.update().values(number=_LAST + 1, digest=copy["digest"]))
    assert {number for number, _ in told(kept)} == {_LAST + 1}


def test_a_record_inserted_in_the_middle_is_found(kept: Store) -> None:
    later = [
        table.update().where(table.c.number == number).values(number=number + 1)
        for number in (_LAST, 4, 3)
        for table in (contents, records)
    ]
    made = row_of(kept, 2)
    made |= {"number": 3, "id": "made-up", "previous": made["digest"]}
    made["content_digest"] = content_digest("00" * 16, b"{}", b"{}", made)
    made["digest"] = record_digest(made)
    new_head = Head(_LAST + 1, row_of(kept, _LAST)["digest"])
    tamper(
        kept,
        *later,
        records.insert().values(made),
        contents.insert().values(number=3, salt="00" * 16, received=b"{}", answer=b"{}"),
        head.update().values(number=new_head.number, digest=new_head.digest),
    )
    found = told(kept)
    assert found[0] == (4, "link")  # the made-up one is sealed; what stands after it shows that it does not belong
    assert {(4, "edited"), (5, "edited"), (6, "edited")} <= set(found)


def test_an_edit_that_was_sealed_anew_shows_in_the_next_record(kept: Store) -> None:
    made = row_of(kept, 3) | {"created": "2020-01-01T00:00:00.000Z"}
    tamper(kept, records.update().where(records.c.number == 3).values(made | {"digest": record_digest(made)}))
    assert told(kept) == [(4, "link")]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"digest": GENESIS}, (_LAST, "head")),
        ({"number": _LAST - 1}, (_LAST, "inserted")),
        ({"number": _LAST + 2}, (_LAST + 1, "missing")),
    ],
)
def test_an_edited_head_is_found(kept: Store, change: dict[str, Any], fault: tuple[int, str]) -> None:
    tamper(kept, head.update().values(change))
    assert told(kept) == [fault]


def test_a_lost_head_is_found(kept: Store) -> None:
    tamper(kept, head.delete())
    assert told(kept) == [(0, "head")]


def test_the_end_cut_off_together_with_the_head_shows_by_a_head_that_was_noted(kept: Store) -> None:
    noted = kept.head()
    tamper(
        kept,
        contents.delete().where(contents.c.number > 3),
        records.delete().where(records.c.number > 3),
        head.update().values(number=3, digest=row_of(kept, 3)["digest"]),
    )
    assert told(kept) == []
    assert told(kept, noted) == [(_LAST, "expected")]


def test_a_chain_written_anew_shows_by_a_head_that_was_noted(kept: Store) -> None:
    noted = kept.head()
    made = row_of(kept, _LAST) | {"created": "2020-01-01T00:00:00.000Z"}
    made["digest"] = record_digest(made)
    tamper(
        kept,
        records.update().where(records.c.number == _LAST).values(made),
        head.update().values(digest=made["digest"]),
    )
    assert told(kept) == []
    assert told(kept, noted) == [(_LAST, "expected")]


def test_a_head_that_was_noted_stays_good_while_records_come(kept: Store, draft: Make) -> None:
    noted = kept.head()
    kept.keep(draft())
    assert told(kept, noted) == []
    assert told(kept, Head(0, GENESIS)) == []


def test_an_erasure_that_names_what_is_still_there_is_found(kept: Store, draft: Make) -> None:
    kept.keep(draft(person="A-7"))
    with kept._engine.connect() as connection:
        content = connection.execute(sa.select(contents).where(contents.c.number == _LAST + 1)).one()._asdict()
    row = row_of(kept, _LAST + 1)
    kept.erase("A-7", reason="asked", created="2026-04-01T09:00:00.000Z")
    assert told(kept) == []
    tamper(kept, records.update().where(records.c.number == _LAST + 1).values({name: row[name] for name in PERSONAL}))
    assert told(kept) == [(_LAST + 1, "edited")]
    tamper(kept, contents.insert().values(content))
    assert told(kept) == [(_LAST + 1, "not-erased")]


def test_an_erasure_does_not_excuse_another_content_that_is_gone(kept: Store, draft: Make) -> None:
    kept.keep(draft(person="A-7"))
    kept.erase("A-7", reason="asked", created="2026-04-01T09:00:00.000Z")
    tamper(kept, contents.delete().where(contents.c.number == 2))
    assert told(kept) == [(2, "content-missing")]
    answer = json.dumps({"erased": [2, 6], "reason": "asked"}).encode()
    tamper(
        kept,
        records.update().where(records.c.number == 2).values(dict.fromkeys(PERSONAL)),
        contents.update().where(contents.c.number == _LAST + 2).values(answer=answer),
    )
    assert told(kept) == [(_LAST + 2, "content")]


@pytest.mark.parametrize("answer", [b"", b"[]", b'{"erased": 3}', b'{"erased": ["2"]}', b"\xff"])
def test_an_erasure_that_says_nothing_that_can_be_read_excuses_nothing(kept: Store, draft: Make, answer: bytes) -> None:
    kept.keep(draft(person="A-7"))
    kept.erase("A-7", reason="asked", created="2026-04-01T09:00:00.000Z")
    tamper(kept, contents.update().where(contents.c.number == _LAST + 2).values(answer=answer))
    assert told(kept) == [(_LAST + 1, "content-missing"), (_LAST + 2, "content")]


def test_an_erasure_excuses_nothing_that_comes_after_it(kept: Store, draft: Make) -> None:
    answer = b'{"erased":[7],"reason":"beforehand"}'
    none = dict.fromkeys(PERSONAL)
    kept.keep(draft(kind="erasure", received=b"", answer=answer, **none))
    kept.keep(draft())
    tamper(
        kept,
        records.update().where(records.c.number == 7).values(none),
        contents.delete().where(contents.c.number == 7),
    )
    assert told(kept) == [(7, "content-missing")]


def test_faults_far_apart_are_all_told_in_order(store: Store, draft: Make) -> None:
    store.keep_many([draft() for _ in range(450)])
    unguarded(store)
    tamper(store, *(contents.update().where(contents.c.number == n).values(answer=b"x") for n in (449, 1, 201, 200)))
    assert told(store) == [(1, "content"), (200, "content"), (201, "content"), (449, "content")]


def test_records_kept_meanwhile_do_not_disturb_a_check(store: Store, draft: Make) -> None:
    store.keep_many([draft(person="A-7") for _ in range(401)])
    unguarded(store)
    tamper(store, contents.update().where(contents.c.number == 1).values(answer=b"x"))
    check = verify_at_once(store)
    assert next(check).number == 1
    store.keep(draft())
    began = time.monotonic()
    store.erase("A-7", reason="asked", created="2026-04-01T09:00:00.000Z")
    assert time.monotonic() - began < 30, "an erasure does not wait for long for whoever reads"
    assert [fault for fault in check if fault.kind != "guard"] == []


@pytest.mark.parametrize("value", ["CAST(x'ff41' AS TEXT)", "x'41'", "7"])
def test_a_value_of_another_type_or_that_is_no_text_is_found_in_sqlite(
    sqlite_store: Store, draft: Make, value: str
) -> None:
    sqlite_store.keep_many([draft() for _ in range(3)])
    unguarded(sqlite_store)
    for table, name in (("records", "created"), ("records", "person"), ("contents", "answer"), ("contents", "salt")):
        with sqlite_store._engine.connect() as connection:
            was = connection.exec_driver_sql(f"SELECT {name} FROM {table} WHERE number = 2").scalar_one()  # noqa: S608  (names from above)
        tamper(sqlite_store, sa.text(f"UPDATE {table} SET {name} = {value} WHERE number = 2"))  # noqa: S608  (names from above)
        assert {number for number, _ in told(sqlite_store)} == {2}
        tamper(sqlite_store, sa.text(f"UPDATE {table} SET {name} = :was WHERE number = 2").bindparams(was=was))  # noqa: S608  (names from above)
        assert told(sqlite_store) == []
    assert sqlite_store.following(0, 3)[1].person == "A-3"


def test_the_seal_is_what_its_definition_says(store: Store, draft: Make) -> None:
    """The digest worked out anew without the library: ASCII text and whole numbers are the same in any JSON."""
    store.keep(draft())
    record = store.keep(draft(received=b"\x00\xff", answer=b'{"u":1.0}')).record

    def sha256(document: dict[str, Any]) -> str:
        text = json.dumps(document, sort_keys=True, separators=(",", ":"))
        return "sha256:" + hashlib.sha256(text.encode()).hexdigest()

    assert record.content_digest == sha256(
        {
            "salt": record.salt,
            "received": "AP8=",
            "answer": "eyJ1IjoxLjB9",
            **{name: getattr(record, name) for name in PERSONAL},
        }
    )
    assert record.digest == sha256(
        {
            "number": 2,
            "id": record.id,
            "kind": "assessment",
            "created": record.created,
            "about": None,
            "source": None,
            "rulebook_version": "1.1.0",
            "rulebook_digest": record.rulebook_digest,
            "content_digest": record.content_digest,
            "previous": record.previous,
        }
    )


def test_two_processes_find_what_one_does(store: Store, draft: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    store.keep_many([draft() for _ in range(12)])
    head_before = store.head()
    unguarded(store)
    tamper(store, *(contents.update().where(contents.c.number == n).values(answer=b"x") for n in (12, 1, 5, 6)))
    monkeypatch.setattr("fitcheck.records.ranged_verification.RECORDS", 5)
    found = list(verify_ranges(store, 2, expected=head_before))
    assert found == list(verify_at_once(store, expected=head_before))
    assert [fault.number for fault in found if fault.kind == "content"] == [1, 5, 6, 12]
