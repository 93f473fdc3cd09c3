"""A store changed behind its back, as whoever wants to change records would, and what its check then says."""

from __future__ import annotations

from typing import Any

from fitcheck.records import Head, Store, verify

__all__ = ["tamper", "told", "unguarded"]


def unguarded(store: Store) -> Store:
    """Take the guards off, as whoever wants to change records would."""
    with store._engine.begin() as connection:
        if connection.dialect.name == "sqlite":
            for name in connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'trigger'").scalars():
                connection.exec_driver_sql(f"DROP TRIGGER {name}")
        else:
            for table in ("records", "contents", "head"):
                connection.exec_driver_sql(f"ALTER TABLE {table} DISABLE TRIGGER USER")
                connection.exec_driver_sql("ALTER TABLE contents DROP CONSTRAINT IF EXISTS contents_number_fkey")
    return store


def tamper(store: Store, *statements: Any) -> None:
    with store._engine.connect() as connection:
        if connection.dialect.name == "sqlite":
            driver: Any = connection.connection.driver_connection
            driver.execute("PRAGMA foreign_keys = OFF")
        with connection.begin():
            for statement in statements:
                connection.execute(statement)
        if connection.dialect.name == "sqlite":
            driver.execute("PRAGMA foreign_keys = ON")


def told(store: Store, expected: Head | None = None) -> list[tuple[int, str]]:
    # That the guards are off is a fault of its own.
    return [(fault.number, fault.kind) for fault in verify(store, expected=expected) if fault.kind != "guard"]
