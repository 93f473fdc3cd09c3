"""Records as CloudEvents and the feed of them, on every database.

Held against the specification's own JSON schema and read by its own Python SDK (tests/reference/data/README.md). The
batch format is a JSON list of events in the JSON format, empty where there are none: JSON Event Format for CloudEvents
1.0.2, section 4.
"""

from __future__ import annotations

import importlib
import itertools
import json
import multiprocessing
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

import pytest
from cloudevents.core.formats.json import JSONFormat

from fitcheck.records import Draft, Store, StoreDamaged, open_store
from fitcheck.records.chain import record_digest
from fitcheck.records.feed import START, TYPES, Cursor, UnknownCursor, batch_after, event_of, latest, sequence_of

Make = Callable[..., Draft]
# It has no types of its own.
jsonschema = importlib.import_module("jsonschema")
NAME = re.compile("[a-z0-9]{1,20}", re.ASCII)
"""CloudEvents 1.0.2, section "Naming Conventions": names of attributes."""
WRITERS = 8
EACH = 25


@pytest.fixture(scope="session")
def schema(root: Path) -> Any:
    """The validator of one event."""
    text = (root / "tests" / "reference" / "data" / "cloudevents-1.0.schema.json").read_text(encoding="utf-8")
    return jsonschema.Draft7Validator(json.loads(text))


@pytest.fixture
def all_kinds(store: Store, draft: Make) -> Store:
    """A store with an assessment, its override, one whose names need escapes, and the erasure of another."""
    first = draft()
    store.keep_many(
        [
            first,
            draft(kind="override", about=first.id, answer=b'{"decision":"put_right"}'),
            draft(person='A"}, {"id": "1', horse="H\\\n\u2028\U0001f40e", visit="\x01\x7f</script>"),
            draft(person="A-9", answer=b'{"note":"of A-9"}'),
        ]
    )
    store.erase("A-9", reason="Asked for it.", created="2026-04-01T08:00:00.000Z")
    return store


def events(store: Store, limit: int = 1000) -> list[dict[str, Any]]:
    told: list[dict[str, Any]] = json.loads(batch_after(store, START, limit).body)
    return told


def followed(store: Store, limit: int, after: Cursor = START) -> Iterator[dict[str, Any]]:
    while (batch := batch_after(store, after, limit)).count:
        told = json.loads(batch.body)
        assert len(told) == batch.count <= limit
        yield from told
        after = batch.next


def test_each_event_follows_the_published_schema_and_the_rules_that_it_cannot_say(
    all_kinds: Store, schema: Any
) -> None:
    told = events(all_kinds)
    assert [event["type"] for event in told] == [
        TYPES[kind][0] for kind in ("assessment", "override", "assessment", "assessment", "erasure")
    ]
    for event in told:
        assert [error.message for error in schema.iter_errors(event)] == []
        assert [name for name in event if not NAME.fullmatch(name)] == []
        assert event["specversion"] == "1.0"
        assert urlsplit(event["source"]).scheme == "urn"
        assert datetime.fromisoformat(event["time"]).tzinfo == UTC
    assert len({(event["source"], event["id"]) for event in told}) == len(told)


def test_the_specifications_own_reader_takes_each_event(all_kinds: Store) -> None:
    for event, record in zip(events(all_kinds), all_kinds.following(0, 10), strict=True):
        read = JSONFormat().read(None, json.dumps(event))
        assert read.get_id() == record.id
        assert read.get_extension("sequence") == sequence_of(record.number)
        time, data = read.get_time(), read.get_data()
        assert time is not None
        assert time.timestamp() == datetime.fromisoformat(record.created).timestamp()
        assert isinstance(data, dict)
        assert data["record"]["digest"] == record.digest


def test_an_empty_store_has_an_empty_batch_and_the_place_before_the_first_record(store: Store) -> None:
    batch = batch_after(store, START, 10)
    assert (json.loads(batch.body), batch.count, batch.next) == ([], 0, START)
    assert latest(store) == START


def test_what_was_answered_stands_in_the_event_byte_for_byte(store: Store, draft: Make) -> None:
    answer = '{"u": 1.0,"id":"ä\\u20ac", "n":1e2 ,"big":123456789012345678901234567890}'.encode()
    record = store.keep(draft(answer=answer)).record
    body = batch_after(store, START, 1).body
    assert b'"assessment":' + answer + b"}}]" in body
    assert json.loads(body)[0]["data"]["assessment"] == json.loads(answer)
    assert event_of(record, "urn:x").count(answer) == 1


@pytest.mark.parametrize(
    "answer",
    [b'{}},{"id":"forged"', b"{", b"", b"{}{}", b'{"a":NaN}', b'{"a":"\xff"}', b"\xef\xbb\xbf{}", b'{"a":"\\ud800"}'],
)
def test_what_is_not_json_is_told_by_nobody(store: Store, draft: Make, answer: bytes) -> None:
    store.keep(draft(answer=answer))
    with pytest.raises(StoreDamaged, match="record 1 is not JSON"):
        batch_after(store, START, 10)


def test_names_with_quotes_and_control_characters_stay_inside_their_strings(store: Store, draft: Make) -> None:
    odd = {"person": '","erased":true,"x":"', "horse": "\x01\x7f\u2028\U0001f40e", "visit": "\\"}
    store.keep(draft(**odd))
    [event] = events(store)
    assert {name: event["data"]["record"][name] for name in odd} == odd
    assert event["data"]["erased"] is False


@pytest.mark.parametrize(
    ("answer", "version"),
    [(b'{"decision":"release"}', "v1"), (b'{"unassessed":[]}', "v2"), (b'{"carried":[]}', "v2"), (b"[]", "v1")],
)
def test_the_type_of_an_assessments_event_is_the_shape_of_its_answer(
    store: Store, draft: Make, answer: bytes, version: str
) -> None:
    store.keep(draft(answer=answer))
    [event] = events(store)
    assert event["type"] == f"fitcheck.assessment.kept.{version}"


def test_an_event_names_the_assessment_that_it_is_about(all_kinds: Store) -> None:
    kept, override, *_, erasure = events(all_kinds)
    assert kept["subject"] == kept["id"] == override["subject"] == override["data"]["record"]["about"]
    assert override["data"]["override"] == {"decision": "put_right"}
    assert "subject" not in erasure


def test_of_what_was_erased_no_name_and_no_content_is_told_and_the_erasure_says_which(all_kinds: Store) -> None:
    body = batch_after(all_kinds, START, 10).body
    assert b"A-9" not in body
    *_, gone, erasure = json.loads(body)
    assert (gone["type"], gone["data"]["erased"], set(gone["data"])) == (
        TYPES["assessment"][0],
        True,
        {"record", "erased"},
    )
    assert gone["data"]["record"]["person"] is gone["data"]["record"]["horse"] is None
    assert erasure["data"]["erasure"] == {"erased": [gone["data"]["record"]["number"]], "reason": "Asked for it."}


def test_a_follower_can_check_the_chain_by_the_events_alone(all_kinds: Store) -> None:
    previous = "sha256:" + "0" * 64
    for event in events(all_kinds):
        told = event["data"]["record"]
        assert told["previous"] == previous
        assert record_digest({**told, "id": event["id"], "created": event["time"]}) == told["digest"]
        previous = told["digest"]
    assert previous == all_kinds.head().digest


def test_the_source_stays_with_a_store_and_is_another_for_the_same_records_elsewhere(
    all_kinds: Store, url: str, tmp_path: Path, draft: Make
) -> None:
    drafts = [draft(id=record.id) for record in all_kinds.following(0, 3)]
    with open_store(url) as again, open_store(f"sqlite:///{tmp_path / 'elsewhere.sqlite3'}") as elsewhere:
        elsewhere.keep_many([replace(each, about=None) for each in drafts])
        [here] = {event["source"] for event in events(all_kinds)}
        assert {event["source"] for event in events(again)} == {here}
        assert {event["source"] for event in events(elsewhere)}.isdisjoint({here})
    assert UUID(here).version == 8


def test_sequences_order_as_text_just_as_numbers_do() -> None:
    numbers = [1, 2, 9, 10, 11, 99, 100, 12345, 2**31, 2**63 - 1]
    assert sorted(map(sequence_of, reversed(numbers))) == [sequence_of(number) for number in numbers]
    assert {len(sequence_of(number)) for number in numbers} == {19}


@pytest.mark.parametrize("limit", [1, 2, 3, 7, 1000])
def test_reading_on_in_steps_of_any_length_tells_all_once_and_in_order(store: Store, draft: Make, limit: int) -> None:
    kept = store.keep_many([draft() for _ in range(7)])
    assert [event["id"] for event in followed(store, limit)] == [record.id for record in kept]


def test_more_records_than_are_read_at_once_make_one_batch(store: Store, draft: Make) -> None:
    kept = store.keep_many([draft() for _ in range(130)])
    batch = batch_after(store, START, 120)
    assert [event["id"] for event in json.loads(batch.body)] == [record.id for record in kept[:120]]
    assert batch.next == Cursor.after(120, kept[119].digest)


def test_a_batch_ends_where_it_grows_too_large_but_never_without_an_event(store: Store, draft: Make) -> None:
    answer = json.dumps({"text": "x" * 10_000}).encode()
    kept = store.keep_many([draft(answer=answer) for _ in range(5)])
    assert batch_after(store, START, 5, batch_bytes=1).count == 1
    two = batch_after(store, START, 5, batch_bytes=25_000)
    assert (two.count, two.next) == (2, Cursor.after(2, kept[1].digest))
    assert len(two.body) < 25_000


def test_from_the_latest_place_only_what_comes_is_told(store: Store, draft: Make) -> None:
    store.keep_many([draft(), draft()])
    place = latest(store)
    assert batch_after(store, place, 10).count == 0
    later = store.keep(draft()).record
    assert [event["id"] for event in followed(store, 10, place)] == [later.id]


def test_a_cursor_is_refused_by_any_history_but_its_own(store: Store, draft: Make, tmp_path: Path) -> None:
    kept = store.keep_many([draft(), draft()])
    here = latest(store)
    with open_store(f"sqlite:///{tmp_path / 'elsewhere.sqlite3'}") as elsewhere:
        elsewhere.keep_many([draft(id=record.id) for record in kept])
        for cursor in (here, Cursor.after(1, kept[0].digest)):
            with pytest.raises(UnknownCursor, match=str(cursor)):
                batch_after(elsewhere, cursor, 10)
    for cursor in (
        replace(here, number=1),
        replace(here, number=3),
        replace(here, number=10**17),
        replace(here, number=0),
    ):
        with pytest.raises(UnknownCursor):
            batch_after(store, cursor, 10)


def test_a_store_put_back_to_an_earlier_state_refuses_cursors_of_what_it_lost(
    sqlite_url: str, draft: Make, tmp_path: Path
) -> None:
    file, backup = Path(sqlite_url.removeprefix("sqlite:///")), tmp_path / "backup"
    with open_store(sqlite_url) as store:
        store.keep(draft())
        before = latest(store)
    shutil.copy(file, backup)
    with open_store(sqlite_url) as store:
        store.keep(draft())
        lost = latest(store)
    shutil.copy(backup, file)
    with open_store(sqlite_url) as store:
        with pytest.raises(UnknownCursor):
            batch_after(store, lost, 10)
        other = store.keep(draft()).record
        assert other.number == lost.number
        with pytest.raises(UnknownCursor):
            batch_after(store, lost, 10)
        assert [event["id"] for event in followed(store, 10, before)] == [other.id]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "1",
        "1-",
        "1-012345678901234",
        "1-0123456789ABCDEF",
        "01-0123456789abcdef",
        "-1-0123456789abcdef",
        " 1-0123456789abcdef",
        "1-0123456789abcdef\n",
        "\u0663-0123456789abcdef",
        "9" * 19 + "-0123456789abcdef",
    ],
)
def test_what_has_not_the_form_of_a_cursor_is_none(text: str) -> None:
    assert Cursor.read(text) is None


def test_a_cursor_is_read_as_it_was_written(store: Store, draft: Make) -> None:
    store.keep(draft())
    for cursor in (START, latest(store)):
        assert Cursor.read(str(cursor)) == cursor


def keep_some(url: str, drafts: list[Draft]) -> None:
    with open_store(url) as store:
        for each in drafts:
            store.keep(each)


@pytest.mark.long("sqlite")
def test_a_follower_of_eight_processes_that_write_at_once_gets_all_in_order_without_a_gap(
    url: str, draft: Make
) -> None:
    with open_store(url) as store:
        others = multiprocessing.get_context("spawn")
        drafts = [[draft() for _ in range(EACH)] for _ in range(WRITERS)]
        writers = [others.Process(target=keep_some, args=(url, each)) for each in drafts]
        for writer in writers:
            writer.start()
        numbers: list[int] = []
        ids: list[str] = []
        reads, after = 0, START
        while len(numbers) < WRITERS * EACH:
            batch = batch_after(store, after, 10)
            reads, after = reads + 1, batch.next
            for event in json.loads(batch.body):
                numbers.append(event["data"]["record"]["number"])
                ids.append(event["id"])
            assert batch.count or any(writer.is_alive() for writer in writers) or len(numbers) == store.head().number
        for writer in writers:
            writer.join(30)
            assert writer.exitcode == 0
        assert batch_after(store, after, 10).count == 0
    assert numbers == list(range(1, WRITERS * EACH + 1))
    assert set(ids) == {each.id for each in itertools.chain(*drafts)}
    assert reads > WRITERS
