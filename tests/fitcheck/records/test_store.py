"""What is kept comes back as it was, once, and in order; on every database."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace

import pytest

from fitcheck.records import (
    EMPTY,
    GENESIS,
    AlreadyStored,
    Draft,
    Head,
    Idempotency,
    KeyReused,
    RecordFilter,
    Store,
    TooManyRecords,
    UnknownRecord,
    open_store,
)

Make = Callable[..., Draft]


def test_an_empty_store_has_the_number_0_and_the_genesis_digest(store: Store) -> None:
    assert store.head() == EMPTY == Head(0, GENESIS)
    assert store.following(0, 10) == []


def test_everything_of_a_draft_comes_back_byte_for_byte(store: Store, draft: Make) -> None:
    given = draft(received=bytes(range(256)), answer=b'{ "a" : 1.0 , "a":"\xff" }\r\n', source="sha256:" + "c" * 64)
    kept = store.keep(given)
    assert kept.fresh
    assert kept.record.number == 1
    assert kept.record.previous == GENESIS
    assert not kept.record.erased
    found = store.record(given.id)
    assert found == kept.record
    assert {field.name: getattr(found, field.name) for field in fields(Draft)} == {
        field.name: getattr(given, field.name) for field in fields(Draft)
    }


def test_what_was_not_said_stays_unsaid(store: Store, draft: Make) -> None:
    given = draft(person=None, assessor=None, horse=None, visit=None, fitted=None)
    record = store.keep(given).record
    assert store.record(given.id) == record
    assert (record.person, record.assessor, record.horse, record.visit, record.fitted) == (None,) * 5


def test_records_are_numbered_without_gaps_and_each_names_the_one_before(store: Store, draft: Make) -> None:
    first = store.keep(draft()).record
    second, third = store.keep_many([draft(), draft()])
    fourth = store.keep(draft()).record
    assert [record.number for record in (first, second, third, fourth)] == [1, 2, 3, 4]
    assert second.previous == first.digest
    assert third.previous == second.digest
    assert fourth.previous == third.digest
    assert store.head() == Head(4, fourth.digest)
    assert store.following(0, 10) == [first, second, third, fourth]


def test_the_same_draft_in_two_stores_has_two_digests_because_its_content_is_salted(store: Store, draft: Make) -> None:
    first, second = (store.keep(draft(created="2026-03-04T10:00:00.000Z")).record for _ in range(2))
    assert first.salt != second.salt
    assert first.content_digest != second.content_digest


def test_no_record_comes_for_an_unknown_id(store: Store) -> None:
    assert store.record("no-such") is None


def test_the_same_request_again_keeps_nothing_and_gives_the_first_record(store: Store, draft: Make) -> None:
    key = Idempotency("send-1", "", "sha256:1")
    assert store.answered(key) is None
    first = store.keep(draft(), key)
    again = store.keep(draft(), key)
    assert first.fresh
    assert not again.fresh
    assert again.record == first.record == store.answered(key)
    assert store.head().number == 1


def test_a_key_with_another_body_is_refused_and_nothing_is_kept(store: Store, draft: Make) -> None:
    key = Idempotency("send-1", "", "sha256:1")
    store.keep(draft(), key)
    with pytest.raises(KeyReused, match="new key"):
        store.keep(draft(), replace(key, body_digest="sha256:2"))
    with pytest.raises(KeyReused):
        store.answered(replace(key, body_digest="sha256:2"))
    assert store.head().number == 1


def test_two_access_keys_may_use_the_same_idempotency_key(store: Store, draft: Make) -> None:
    assert store.keep(draft(), Idempotency("send-1", "one", "sha256:1")).fresh
    assert store.keep(draft(), Idempotency("send-1", "two", "sha256:2")).fresh


def test_an_id_is_kept_once(store: Store, draft: Make) -> None:
    given = draft()
    store.keep(given)
    with pytest.raises(AlreadyStored):
        store.keep(given)
    with pytest.raises(AlreadyStored):
        store.keep_many([draft(), given])
    assert store.head().number == 1
    assert len(store.following(0, 10)) == 1


def test_a_correction_of_what_was_never_kept_is_refused(store: Store, draft: Make) -> None:
    with pytest.raises(UnknownRecord, match="no-such") as caught:
        store.keep(draft(about="no-such"))
    assert caught.value.id == "no-such"
    later = draft()
    with pytest.raises(UnknownRecord):
        store.keep_many([draft(about=later.id), later])
    assert store.head() == EMPTY


def test_a_correction_may_follow_in_the_same_batch(store: Store, draft: Make) -> None:
    first = draft()
    assert [record.about for record in store.keep_many([first, draft(about=first.id)])] == [None, first.id]


def test_nothing_is_kept_of_an_empty_batch(store: Store) -> None:
    assert store.keep_many([]) == []
    assert store.head() == EMPTY


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        ({"person": "A-9"}, RecordFilter(person="A-9")),
        ({"assessor": "S-9"}, RecordFilter(assessor="S-9")),
        ({"horse": "H-9"}, RecordFilter(horse="H-9")),
        ({"foot": "right_hind"}, RecordFilter(foot="right_hind")),
        ({"visit": "V-9"}, RecordFilter(visit="V-9")),
        ({"decision": "put_right"}, RecordFilter(decision="put_right")),
        ({"kind": "override"}, RecordFilter(kind="override")),
        ({"external_id": "F-9"}, RecordFilter(external_id="F-9")),
        ({"external_system": "yard"}, RecordFilter(external_system="yard")),
        ({"external_system": "yard", "external_id": "F-9"}, RecordFilter(external_system="yard", external_id="F-9")),
        ({"person": "A-9", "horse": "H-9"}, RecordFilter(person="A-9", horse="H-9")),
    ],
)
def test_records_are_found_by_each_field(
    store: Store, draft: Make, change: dict[str, str], wanted: RecordFilter
) -> None:
    _, other, _ = store.keep_many([draft(), draft(**change), draft(person="A-9", decision="incomplete")])
    found = store.records(wanted, limit=10)
    assert other in found
    assert all(getattr(record, name) == value for record in found for name, value in change.items())
    assert len(found) < 3
    assert len(store.records(RecordFilter(), limit=10)) == 3


def test_records_are_found_by_when_they_were_made(store: Store, draft: Make) -> None:
    days = [f"2026-03-0{day}T23:59:59.999Z" for day in (3, 4, 5)]
    store.keep_many([draft(created=day) for day in days])

    def found(since: str | None = None, until: str | None = None) -> list[str]:
        wanted = RecordFilter(since=since, until=until)
        return [record.created for record in store.records(wanted, newest_first=False, limit=10)]

    assert found(since="2026-03-04") == days[1:]
    assert found(until="2026-03-04") == days[:1]
    assert found(since=days[1], until=days[2]) == [days[1]]


def test_what_was_corrected_can_be_left_out(store: Store, draft: Make) -> None:
    first = draft()
    store.keep_many([first, draft(about=first.id)])
    assert [record.number for record in store.records(RecordFilter(), limit=10)] == [2, 1]
    assert [record.number for record in store.records(RecordFilter(superseded=False), limit=10)] == [2]


def test_an_override_corrects_nothing(store: Store, draft: Make) -> None:
    first = draft()
    store.keep_many([first, draft(about=first.id, kind="override")])
    assert len(store.records(RecordFilter(superseded=False), limit=10)) == 2


@pytest.mark.parametrize(("newest_first", "expected"), [(True, [5, 4, 3, 2, 1]), (False, [1, 2, 3, 4, 5])])
def test_pages_follow_each_other(store: Store, draft: Make, *, newest_first: bool, expected: list[int]) -> None:
    store.keep_many([draft() for _ in range(5)])
    seen: list[int] = []
    after = None
    while page := store.records(RecordFilter(person="A-3"), after=after, newest_first=newest_first, limit=2):
        assert len(page) <= 2
        seen += [record.number for record in page]
        after = seen[-1]
    assert seen == expected


def test_the_feed_goes_on_after_a_number(store: Store, draft: Make) -> None:
    store.keep_many([draft() for _ in range(5)])
    assert [record.number for record in store.following(2, 2)] == [3, 4]
    assert store.following(5, 2) == []


def test_a_visit_has_its_feet_in_the_order_of_keeping(store: Store, draft: Make) -> None:
    store.keep_many([draft(foot="left_fore"), draft(visit="another"), draft(foot="right_fore")])
    of_visit = store.each_record(RecordFilter(visit="2026-03-04-H-017"))
    assert [record.foot for record in of_visit] == ["left_fore", "right_fore"]


def test_each_record_comes_in_order_and_none_that_is_kept_meanwhile(store: Store, draft: Make) -> None:
    store.keep_many([draft(visit=f"v-{number % 2}") for number in range(250)])
    coming = store.each_record(RecordFilter(visit="v-1"), after=100)
    numbers = [next(coming).number]
    store.keep(draft(visit="v-1"))
    numbers += [record.number for record in coming]
    assert numbers == list(range(102, 251, 2))


def test_more_records_than_are_gone_through_at_once_are_refused_at_the_end(store: Store, draft: Make) -> None:
    store.keep_many([draft() for _ in range(3)])
    assert len(list(store.each_record(RecordFilter(), most=3))) == 3
    coming = store.each_record(RecordFilter(), most=2)
    assert [next(coming).number, next(coming).number] == [1, 2]
    with pytest.raises(TooManyRecords, match="more than 2 records") as caught:
        next(coming)
    assert caught.value.most == 2


def test_records_are_found_by_many_ids_and_by_what_they_are_about(store: Store, draft: Make) -> None:
    """More ids than one statement takes, some of them twice, and some of no record."""
    first, second = store.keep_many([draft(), draft()])
    corrections = store.keep_many([draft(about=first.id), draft(about=first.id, source="sha256:" + "1" * 64)])
    overrides = store.keep_many([draft(kind="override", about=each.id) for each in (second, first)])
    ids = [second.id, first.id, *(f"none-{number}" for number in range(1200)), first.id]
    assert [record.number for record in store.records_named(ids)] == [1, 2]
    assert store.known_ids(ids) == {first.id, second.id}
    assert store.corrections_of(ids) == {first.id: [each.id for each in corrections]}
    assert store.overrides_about(ids) == overrides
    assert (store.known_ids([]), store.corrections_of([]), store.overrides_about([])) == (set(), {}, [])


def test_nothing_of_a_transaction_stays_where_it_breaks_off(store: Store, draft: Make) -> None:
    store.keep(draft())

    def break_off() -> None:
        with store.writing() as connection:
            connection.exec_driver_sql("UPDATE head SET number = 7")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        break_off()
    assert store.head().number == 1


def test_nothing_is_found_by_a_text_that_no_database_can_hold(store: Store, draft: Make) -> None:
    kept = store.keep(draft()).record
    assert store.record(f"{kept.id}\0") is None
    assert list(store.each_record(RecordFilter(visit="2026-03-04-H-017\0"))) == []
    assert store.records(RecordFilter(person="A-3\0"), limit=5) == []


def test_what_was_kept_is_there_when_the_store_is_opened_again(url: str, draft: Make) -> None:
    with open_store(url) as first:
        kept = first.keep(draft()).record
    with open_store(url, create=False) as second:
        assert second.record(kept.id) == kept
        assert second.keep(draft()).record.previous == kept.digest
