"""The database itself refuses what would change a record by accident, whoever asks."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import sqlalchemy as sa

from fitcheck.records import Draft, Store, open_store, verify
from fitcheck.records.tables import PERSONAL, contents, head, records

Make = Callable[..., Draft]
_CLEARED = dict.fromkeys(PERSONAL)


@pytest.fixture
def kept(store: Store, draft: Make) -> Store:
    """A store of three records."""
    store.keep_many([draft(source="sha256:" + "a" * 64) for _ in range(3)])
    return store


def refused(store: Store, statement: sa.Executable, say: str) -> None:
    with pytest.raises(sa.exc.DBAPIError, match=say), store._engine.begin() as connection:
        connection.execute(statement)
    assert list(verify(store)) == []
    assert len(store.following(0, 10)) == 3


def test_no_column_of_a_record_is_changed(kept: Store) -> None:
    for column in records.c:
        value = 9 if column.name == "number" else "x"
        change = records.update().where(records.c.number == 2).values({column.name: value})
        refused(kept, change, "a record is never changed")


def test_clearing_the_names_changes_nothing_besides(kept: Store) -> None:
    for column in records.c:
        if column.name not in PERSONAL:
            value = 9 if column.name == "number" else "x"
            change = records.update().where(records.c.number == 2).values(_CLEARED | {column.name: value})
            refused(kept, change, "a record is never changed")


def test_names_are_cleared_together_or_not_at_all(kept: Store) -> None:
    for name in PERSONAL:
        refused(kept, records.update().where(records.c.number == 2).values({name: None}), "a record is never changed")


@pytest.mark.parametrize("number", [1, 3])
def test_no_record_is_removed(kept: Store, number: int) -> None:
    refused(kept, records.delete().where(records.c.number == number), "a record is never removed")


@pytest.mark.parametrize("change", [{"salt": "00"}, {"received": b""}, {"answer": b""}, {"number": 9}])
def test_no_content_is_changed(kept: Store, change: dict[str, object]) -> None:
    refused(kept, contents.update().where(contents.c.number == 2).values(change), "a content is never changed")


def test_no_content_is_removed_while_its_record_has_names(kept: Store) -> None:
    refused(kept, contents.delete().where(contents.c.number == 2), "a content goes only with an erasure")


def test_the_head_neither_goes_back_nor_away(kept: Store) -> None:
    refused(kept, head.update().values(number=2), "the head never goes back")
    refused(kept, head.delete(), "the head is never removed")


def test_there_is_one_head(kept: Store) -> None:
    refused(kept, head.insert().values(one=2, number=9, digest="x"), "(?i)check")
    refused(kept, head.insert().values(one=1, number=9, digest="x"), "(?i)unique")


@pytest.mark.parametrize("table", ["records", "contents", "head"])
def test_no_table_is_emptied_on_postgresql(postgres_url: str, draft: Make, table: str) -> None:
    with open_store(postgres_url) as kept:
        kept.keep_many([draft() for _ in range(3)])
        refused(kept, sa.text(f"TRUNCATE {table} CASCADE"), "never removed|only with an erasure")
