"""Guards that are missing or do nothing, and idempotency keys that were changed, are named by the check."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import sqlalchemy as sa

from fitcheck.records import Draft, Idempotency, Store, verify
from fitcheck.records.tables import idempotency
from tests.support.tampering import tamper, told, unguarded

Make = Callable[..., Draft]


def guards_of(store: Store) -> list[str]:
    return [fault.detail.split()[2] for fault in verify(store) if fault.kind == "guard"]


def test_a_guard_that_is_missing_is_named(store: Store) -> None:
    sqlite = store._engine.dialect.name == "sqlite"
    assert guards_of(store) == []
    with store._engine.begin() as connection:
        on = "" if sqlite else " ON records"
        connection.exec_driver_sql(f"DROP TRIGGER records_never_removed{on}")
    assert guards_of(store) == ["records_never_removed"]
    assert len(guards_of(unguarded(store))) == (6 if sqlite else 9)


def test_a_guard_that_does_nothing_any_more_is_named(store: Store) -> None:
    with store._engine.begin() as connection:
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql("DROP TRIGGER head_never_back")
            connection.exec_driver_sql(
                "CREATE TRIGGER head_never_back BEFORE UPDATE ON head WHEN 0 BEGIN SELECT RAISE(ABORT, 'x'); END"
            )
        else:
            connection.exec_driver_sql(
                "CREATE OR REPLACE FUNCTION head_never_back() RETURNS trigger LANGUAGE plpgsql "
                "AS $$BEGIN RETURN NEW; END$$"
            )
    assert guards_of(store) == ["head_never_back"]


@pytest.mark.parametrize(
    "values", [{"key": "other"}, {"scope": "other"}, {"body_digest": "sha256:2"}, {"number": 2}, {"seal": "sha256:0"}]
)
def test_an_idempotency_key_that_was_changed_is_found(store: Store, draft: Make, values: dict[str, Any]) -> None:
    store.keep(draft(), Idempotency("k", "", "sha256:1"))
    store.keep(draft(), Idempotency("other-key", "", "sha256:1"))
    assert told(store) == []
    tamper(store, sa.update(idempotency).where(idempotency.c.key == "k").values(values))
    assert told(store) == [(values.get("number", 1), "request")]


def test_an_idempotency_key_of_an_erased_record_is_found(store: Store, draft: Make) -> None:
    store.keep(draft(person="A-7"))
    store.erase("A-7", reason="asked", created="2026-04-01T09:00:00.000Z")
    row = {"scope": "", "key": "k", "body_digest": "d", "number": 1, "created": "c", "seal": None}
    tamper(store, sa.insert(idempotency).values(row))
    assert told(store) == [(1, "request")]
