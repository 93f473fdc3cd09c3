"""What the record store could not do, as problems."""

from __future__ import annotations

from typing import Final

from api.problem_details import ProblemError
from fitcheck.records.errors import (
    NotAStore,
    StoreDamaged,
    StoreError,
    StoreFull,
    StoreReadOnly,
    StoreTooNew,
    StoreUnavailable,
)

__all__ = ["READING", "WRITING", "store_problem"]

READING: Final = ("store-unavailable", "store-too-new", "store-damaged")
"""The kinds of problem of whatever reads the store."""
WRITING: Final = (*READING, "store-read-only", "store-full")
"""The kinds of problem of whatever writes to it."""

_KINDS: Final[dict[type[StoreError], str]] = {
    StoreFull: "store-full",
    StoreReadOnly: "store-read-only",
    StoreTooNew: "store-too-new",
    StoreDamaged: "store-damaged",
    NotAStore: "store-damaged",
}
_DETAILS: Final = {
    "store-unavailable": "The records of this service cannot be reached just now. Send the request again as it is.",
    "store-full": "There is no room left for records. Nothing was kept.",
    "store-read-only": "The records of this service can be read but not written. Nothing was kept.",
    "store-too-new": "The records of this service were made by a newer fitcheck than this one. Nothing was kept.",
    "store-damaged": "Where the records of this service should lie they are damaged, or something else lies there.",
}


def store_problem(error: StoreError) -> ProblemError:
    """The problem that tells of ``error``, and nothing of where records lie."""
    kind = _KINDS.get(type(error), "store-unavailable")
    again = {"retry-after": str(error.retry_after)} if isinstance(error, StoreUnavailable) else {}
    return ProblemError(kind, _DETAILS[kind], headers=again)
