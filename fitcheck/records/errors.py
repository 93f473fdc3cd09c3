"""What can go wrong with the record store; no error of a driver gets out of the package.

The tree of all errors stands in :mod:`fitcheck.errors`.
"""

from __future__ import annotations

from typing import Final

from fitcheck.errors import FitcheckError

__all__ = [
    "AlreadyStored",
    "ErasureRefused",
    "KeyReused",
    "NotAStore",
    "StoreDamaged",
    "StoreError",
    "StoreFull",
    "StoreReadOnly",
    "StoreTooNew",
    "StoreUnavailable",
    "TooManyRecords",
    "UnknownRecord",
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


class NotAStore(StoreError):
    """The address is none, or what lies there is not a record store."""


class AlreadyStored(StoreError):
    """A record of that id is in the store."""


class KeyReused(StoreError):
    """The idempotency key was used before, with another body."""


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
