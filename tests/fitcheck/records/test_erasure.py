"""Erasing a person takes the names and the contents, leaves the chain whole, and says that it was done."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import pytest

from fitcheck.records import (
    Draft,
    ErasureRefused,
    Idempotency,
    RecordFilter,
    Store,
    open_store,
    verify,
)

Make = Callable[..., Draft]
_WHEN = "2026-04-01T09:00:00.000Z"
_KEPT = {
    "kind",
    "id",
    "created",
    "rulebook_version",
    "rulebook_digest",
    "about",
    "source",
    "number",
    "content_digest",
    "previous",
    "digest",
}


def test_an_erasure_clears_the_persons_records_and_no_others(store: Store, draft: Make) -> None:
    theirs, other, assessed = store.keep_many(
        [draft(person="A-7"), draft(person="A-8"), draft(person="A-8", assessor="A-7")]
    )
    erasure = store.erase("A-7", reason="asked for on paper", created=_WHEN)
    assert erasure is not None
    assert json.loads(erasure.answer) == {"erased": [1, 3], "reason": "asked for on paper"}
    assert (erasure.kind, erasure.number, erasure.created, erasure.previous) == ("erasure", 4, _WHEN, assessed.digest)
    first, second, third, last = store.following(0, 10)
    assert second == other
    assert last == erasure
    for before, after in ((theirs, first), (assessed, third)):
        assert after.erased
        assert after.received == after.answer == b""
        for field in fields(after):
            if field.name in _KEPT:
                assert getattr(after, field.name) == getattr(before, field.name)
            elif field.name not in {"erased", "received", "answer"}:
                assert getattr(after, field.name) is None
    assert list(verify(store)) == []


def test_an_erased_person_is_found_no_more_and_records_go_on(store: Store, draft: Make) -> None:
    store.keep_many([draft(person="A-7"), draft(person="A-8")])
    store.erase("A-7", reason="asked", created=_WHEN)
    assert store.records(RecordFilter(person="A-7"), limit=10) == []
    assert store.erase("A-7", reason="asked again", created=_WHEN) is None
    store.keep(draft(person="A-7"))
    again = store.erase("A-7", reason="asked again", created=_WHEN)
    assert again is not None
    assert json.loads(again.answer)["erased"] == [4]
    assert store.head().number == 5
    assert list(verify(store)) == []


def test_nothing_is_written_where_there_is_nothing_to_erase(store: Store, draft: Make) -> None:
    store.keep(draft())
    assert store.erase("nobody", reason="asked", created=_WHEN) is None
    assert store.head().number == 1


def test_the_idempotency_keys_of_erased_records_go_too(store: Store, draft: Make) -> None:
    theirs, other = Idempotency("for A-7", "", "sha256:1"), Idempotency("for A-8", "", "sha256:2")
    store.keep(draft(person="A-7"), theirs)
    store.keep(draft(person="A-8"), other)
    store.erase("A-7", reason="asked", created=_WHEN)
    assert store.answered(theirs) is None
    assert store.answered(other) is not None


@pytest.mark.parametrize("reason", ["A-7 asked", "asked by a-7.", "A-7"])
def test_a_reason_that_names_the_person_is_refused(store: Store, draft: Make, reason: str) -> None:
    kept = store.keep(draft(person="A-7")).record
    with pytest.raises(ErasureRefused, match="must not name"):
        store.erase("A-7", reason=reason, created=_WHEN)
    assert store.record(kept.id) == kept
    assert store.erase("A-7", reason="A-71 asked", created=_WHEN) is not None


def test_thousands_of_records_are_erased_at_once(store: Store, draft: Make) -> None:
    store.keep_many([draft(person="A-7") for _ in range(1201)])
    erasure = store.erase("A-7", reason="asked", created=_WHEN)
    assert erasure is not None
    assert json.loads(erasure.answer)["erased"] == list(range(1, 1202))
    assert all(record.erased for record in store.following(0, 1201))
    assert list(verify(store)) == []


def test_no_byte_of_the_erased_stays_in_the_files_of_sqlite(sqlite_url: str, tmp_path: Path, draft: Make) -> None:
    mark = "erase-me-9c41"

    def found() -> list[str]:
        files = [path for path in tmp_path.rglob("*") if path.is_file()]
        return [path.name for path in files if mark.encode() in path.read_bytes()]

    with open_store(sqlite_url) as store:
        store.keep_many([draft() for _ in range(50)])
        store.keep(draft(person=mark, received=mark.encode() * 1000), Idempotency(mark, "", "sha256:1"))
        store.keep_many([draft() for _ in range(50)])
        assert found()
        store.erase(mark, reason="asked", created=_WHEN)
        assert found() == []
        assert store.head().number == 102
