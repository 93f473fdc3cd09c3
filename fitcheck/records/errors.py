"""What can go wrong with the record store, and the one place where errors of the databases become errors of the store.

No error of a driver gets out of the package. The tree of all errors stands in :mod:`fitcheck.errors`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from sqlalchemy import exc

from fitcheck.errors import FitcheckError

__all__ = [
    "AlreadyCorrected",
    "AlreadyStored",
    "ErasureRefused",
    "KeyReused",
    "MayBeRepeatedError",
    "NotAStore",
    "RequestErased",
    "StoreDamaged",
    "StoreError",
    "StoreFull",
    "StoreReadOnly",
    "StoreReplaced",
    "StoreTooNew",
    "StoreUnavailable",
    "TooManyRecords",
    "UnknownRecord",
    "VisitOfAnotherHorse",
    "translated",
]

_SECONDS_TO_WAIT: Final = 5


class StoreError(FitcheckError):
    """The record store could not do what was asked; nothing of it was kept."""


class StoreUnavailable(StoreError):
    """The database does not answer just now; ``retry_after`` is in whole seconds."""

    def __init__(
        self, message: str = "The record store does not answer just now.", *, retry_after: int = _SECONDS_TO_WAIT
    ) -> None:
        self.retry_after = retry_after
        super().__init__(message)


class StoreFull(StoreError):
    """No room is left where the records lie."""


class StoreReadOnly(StoreError):
    """The database may be read but not written."""


class StoreTooNew(StoreError):
    """The store's tables were made by a newer fitcheck than this one."""


class StoreDamaged(StoreError):
    """The database or its tables are not what they should be."""


class StoreReplaced(StoreError):
    """The file that was opened is no longer the one at its path: what is kept in it would be lost."""


class NotAStore(StoreError):
    """The address is none, or what lies there is not a record store."""


class AlreadyStored(StoreError):
    """A record of that id is in the store."""


class AlreadyCorrected(StoreError):
    """The assessment ``id`` was corrected before, by the assessment ``by``: that one is to be corrected instead."""

    def __init__(self, id: str, by: str) -> None:  # noqa: A002  (the field's name in the contract)
        self.id = id
        self.by = by
        super().__init__(f"The assessment {id} was corrected already, by {by}. Correct that one.")


class VisitOfAnotherHorse(StoreError):
    """Under ``visit`` another horse is kept, in the assessment ``id``: by ``field`` it is ``there``, not ``here``."""

    def __init__(self, visit: str, id: str, field: str, *, there: str, here: str) -> None:  # noqa: A002
        self.visit = visit
        self.id = id
        self.field = field
        self.there = there
        self.here = here
        super().__init__(
            f'Under the visit "{visit}" the horse {there} was kept ({field}), and this one is {here}. Give each visit '
            "of each horse a name of its own."
        )


class KeyReused(StoreError):
    """The idempotency key was used before, with another body."""


class RequestErased(StoreError):
    """What an earlier request of this key and body kept was erased; it is not kept anew."""


class UnknownRecord(StoreError):
    """There is no record of that id; ``id`` is it."""

    def __init__(self, id: str) -> None:  # noqa: A002  (the field's name in the contract)
        self.id = id
        super().__init__(f"There is no record {id} in the store.")


class TooManyRecords(FitcheckError):
    """More records than are gone through at once; ``most`` are."""

    def __init__(self, most: int) -> None:
        self.most = most
        super().__init__(f"There are more than {most} records. Ask for fewer days.")


class ErasureRefused(StoreError):
    """The reason given for an erasure names the person whom it erases, and would be kept."""


class MayBeRepeatedError(StoreUnavailable):
    """Two transactions stood in each other's way; the same one may go through when it is run again."""


class _DriverFault(Exception):
    """What a driver raised, by its class and codes alone, as the cause that a log shows.

    The driver's own words are left out: they repeat values of rows, such as names of people, and statements.
    """


_BUSY: Final = (StoreUnavailable, "The record store is busy.")
_GONE: Final = (StoreUnavailable, "The record store does not answer just now.")
_FULL: Final = (StoreFull, "No room is left for records. Make room where the database lies, then send it again.")
_READ_ONLY: Final = (StoreReadOnly, "The record store may be read but not written.")
_DAMAGED: Final = (StoreDamaged, "The record store is damaged: check it, and restore it from a backup.")
_THERE: Final = (AlreadyStored, "A record of that id is in the store.")
_UNFORESEEN: Final = (StoreError, "The record store failed.")

# Primary result codes: https://sqlite.org/rescode.html
_BY_SQLITE_CODE: Final[dict[int, tuple[type[StoreError], str]]] = {
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_PERM: _READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: (StoreUnavailable, "The file of the record store cannot be opened."),
    sqlite3.SQLITE_IOERR: (StoreUnavailable, "The file of the record store cannot be read or written."),
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_PROTOCOL: _BUSY,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: (NotAStore, "What lies there is not a record store."),
}
_PRIMARY: Final = 0xFF

# SQLSTATE, or how it begins, the first that fits: https://www.postgresql.org/docs/current/errcodes-appendix.html
_BY_SQLSTATE: Final[tuple[tuple[str, tuple[type[StoreError], str]], ...]] = (
    ("53100", _FULL),
    ("25006", _READ_ONLY),
    ("42501", _READ_ONLY),
    ("40001", (MayBeRepeatedError, "The record store is busy.")),
    ("40P01", (MayBeRepeatedError, "The record store is busy.")),
    ("55P03", _BUSY),
    ("57014", _BUSY),
    ("53", _BUSY),
    ("08", _GONE),
    ("57P", _GONE),
    ("58", _GONE),
    ("28", (StoreUnavailable, "The record store does not let fitcheck in.")),
    ("3D000", (NotAStore, "There is no such database.")),
    ("42P01", _DAMAGED),
    ("42703", _DAMAGED),
    ("XX00", _DAMAGED),
)


@contextmanager
def translated() -> Iterator[None]:
    """Raise an error of the store for each that a database or its driver raises inside."""
    try:
        yield
    except exc.DBAPIError as error:
        kind, message = _of(error)
        raise kind(message) from _without_values(error.orig or error)
    except exc.TimeoutError as error:
        raise StoreUnavailable("The record store is busy.") from _without_values(error)
    except exc.SQLAlchemyError as error:
        raise StoreError(_UNFORESEEN[1]) from _without_values(error)


def _without_values(error: BaseException) -> _DriverFault:
    diagnosis = getattr(error, "diag", None)
    codes = (
        getattr(error, "sqlite_errorname", None),
        getattr(error, "sqlstate", None),
        getattr(diagnosis, "table_name", None),
        getattr(diagnosis, "constraint_name", None),
    )
    return _DriverFault(" ".join([type(error).__name__, *(str(code) for code in codes if code)]))


def _of(error: exc.DBAPIError) -> tuple[type[StoreError], str]:
    cause = error.orig
    if isinstance(cause, sqlite3.Error):
        return _of_sqlite(cause)
    state = getattr(cause, "sqlstate", None)
    if state is None:
        # The driver has no state for a server that it cannot reach or that went away.
        return _GONE if error.connection_invalidated or isinstance(error, exc.OperationalError) else _UNFORESEEN
    if isinstance(error, exc.IntegrityError):
        constraint = getattr(getattr(cause, "diag", None), "constraint_name", None)
        return _THERE if constraint == "records_id" else _DAMAGED
    return next((found for start, found in _BY_SQLSTATE if state.startswith(start)), _UNFORESEEN)


def _of_sqlite(error: sqlite3.Error) -> tuple[type[StoreError], str]:
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
    if code == sqlite3.SQLITE_CONSTRAINT_UNIQUE:
        return _THERE
    # A number twice, or a table or column that is not there.
    if code == sqlite3.SQLITE_CONSTRAINT_PRIMARYKEY or (code == sqlite3.SQLITE_ERROR and "no such" in str(error)):
        return _DAMAGED
    return _BY_SQLITE_CODE.get(code & _PRIMARY, _UNFORESEEN)
