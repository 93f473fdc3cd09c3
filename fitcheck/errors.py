"""What can go wrong with what a caller sends, and the tree of all errors that are raised on purpose.

::

    FitcheckError
    +-- BadInput               the input is wrong; ``problems`` says where, what is allowed and what to do
    |   +-- CannotFollow       the assessment that a fitting follows is of another foot or horse, or of a later stage
    +-- RulesError
    |   +-- RulebookError      the rulebook, as data, is wrong; names file and key
    |   +-- EngineFault        the engine did not finish a run as it must; no finding of that run may be used
    +-- StoreError             the record store could not do what was asked
    |   +-- StoreUnavailable   the database does not answer just now; ``retry_after`` says when to try again
    |   |   +-- MayBeRepeatedError   the database asks for the transaction once more; the store does so by itself
    |   +-- StoreFull          no room is left where the records lie
    |   +-- RequestErased      what an earlier request of this key kept was erased
    |   +-- StoreReadOnly      the database may be read but not written
    |   +-- StoreReplaced      the file that was opened is no longer the one at its path
    |   +-- StoreTooNew        a newer fitcheck has been at work there
    |   +-- StoreDamaged       the database or its tables are not what they should be
    |   +-- StoreNotEmpty      a backup was to be restored where there are records already
    |   +-- NotAStore          the address is none, or what lies there is something else
    |   +-- NotABackup         the file is no backup, or not a whole one
    |   +-- AlreadyStored      a record of that id is there
    |   +-- AlreadyCorrected   another record corrects that one already
    |   +-- VisitOfAnotherHorse  another horse was kept under that visit
    |   +-- KeyReused          the idempotency key came before, with another body
    |   +-- UnknownRecord      there is no record of that id
    |   +-- UnknownKey         there is no access key of that id
    |   +-- ErasureRefused     the reason for an erasure names whom it erases
    |   +-- PracticeReused     there is a session of practice of that id already
    |   +-- TooManySubscriptions  as many subscriptions stand as may
    +-- NotSigned              a head of the chain is not signed, or by another key
    +-- UnknownCursor          the feed was asked to go on from a place that it does not have
    +-- TooManyRecords         one request asks for more records than are read at once
    +-- Unreadable             a kept record is in a form that this version does not read
    +-- UnknownFollowed        no kept assessment of that id can be followed by a fitting
    +-- CannotMark             a kept record cannot be marked by the scheme at hand
    +-- OtherRulebook          a worker of a cluster has another rulebook under the name that a part gives
    +-- ClusterLost            there is no cluster at the address, or it was lost while at work
    +-- ReportRefused          a report of regrading cannot be gone on with
    +-- BadSetting             a setting of the environment is wrong
    +-- RefusedTarget          nothing is sent to the address that a subscription names

The service adds ProblemError and TooManyWaiting.  Mistakes in programming, such as a route that does not say who may
use it, stay outside the tree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rules.errors import FitcheckError

__all__ = ["BadInput", "FitcheckError", "Problem"]


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault in the input: its ``field`` as a dotted path, the ``value`` there, what is ``allowed``, what to do.

    A list or an object that is wrong stands there in words or written out, as text.
    """

    field: str
    value: str | float | bool | None
    allowed: str
    detail: str

    def as_dict(self) -> dict[str, Any]:
        """The problem as the JSON object of the contract."""
        return {"field": self.field, "value": self.value, "allowed": self.allowed, "detail": self.detail}

    def __str__(self) -> str:
        return f"{self.field}: {self.detail} Allowed: {self.allowed}."


class BadInput(FitcheckError):
    """The input cannot be assessed; nothing was kept."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(str(problem) for problem in self.problems))
