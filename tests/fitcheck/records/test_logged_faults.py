"""What a log shows of an error of the store, its causes among it, has nothing of what was to be kept."""

from __future__ import annotations

import traceback
from collections.abc import Callable

import pytest
import sqlalchemy as sa

from fitcheck.records import Draft, Idempotency, Store, StoreError, open_store

Make = Callable[..., Draft]
MARK = "Sek" + "rit"  # put together here, since a traceback shows the lines of this file
NAMES = {name: f"{MARK}-{name}" for name in ("person", "assessor", "horse", "visit")}
KEY = Idempotency(f"{MARK}-key", MARK, MARK)


def written(error: BaseException) -> str:
    """The error as Python writes it into a log."""
    return "".join(traceback.format_exception(error))


@pytest.mark.parametrize(
    ("table", "column"), [("records", "person"), ("contents", "salt"), ("idempotency", "key"), ("idempotency", "scope")]
)
def test_what_postgresql_says_of_a_row_is_not_logged(postgres_url: str, draft: Make, table: str, column: str) -> None:
    with open_store(postgres_url) as store:
        with store.writing() as connection:
            connection.exec_driver_sql(
                "CREATE FUNCTION fail() RETURNS trigger LANGUAGE plpgsql AS $$BEGIN "
                f"RAISE EXCEPTION USING MESSAGE = 'no room for ' || NEW.{column}; END$$"
            )
            connection.exec_driver_sql(
                f"CREATE TRIGGER fail BEFORE INSERT ON {table} FOR EACH ROW EXECUTE FUNCTION fail()"
            )
        with pytest.raises(StoreError) as caught:
            store.keep(draft(**NAMES), KEY)
    assert "RaiseException P0001" in written(caught.value)
    assert MARK not in written(caught.value)
    assert "no room for" not in written(caught.value)
    assert "INSERT INTO" not in written(caught.value)


def test_what_sqlite_says_of_a_row_is_not_logged(sqlite_store: Store, draft: Make) -> None:
    with sqlite_store.writing() as connection:
        connection.exec_driver_sql("CREATE UNIQUE INDEX once ON records (person)")
    sqlite_store.keep(draft(**NAMES))
    with pytest.raises(StoreError) as caught:
        sqlite_store.keep(draft(**NAMES), KEY)
    assert "IntegrityError SQLITE_CONSTRAINT_UNIQUE" in written(caught.value)
    assert MARK not in written(caught.value)
    assert "INSERT INTO" not in written(caught.value)


def test_text_that_cannot_be_read_is_not_logged(sqlite_store: Store, draft: Make) -> None:
    sqlite_store.keep(draft())
    with sqlite_store.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER records_never_changed")
        broken = MARK.encode() + b"\xff"
        connection.execute(sa.text("UPDATE records SET person = CAST(:broken AS TEXT)"), {"broken": broken})
    with pytest.raises(StoreError) as caught:
        sqlite_store.following(0, 1)
    assert "OperationalError" in written(caught.value)
    assert MARK not in written(caught.value)


def test_a_duplicate_names_its_constraint_and_not_its_values(postgres_url: str, draft: Make) -> None:
    with open_store(postgres_url) as store:
        store.keep(draft(id=MARK))
        with pytest.raises(StoreError) as caught:
            store.keep(draft(id=MARK))
    assert "UniqueViolation 23505 records records_id" in written(caught.value)
    assert MARK not in written(caught.value)
