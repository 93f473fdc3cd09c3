"""What can go wrong with what a caller sends.

::

    FitcheckError
    +-- BadInput    the input is wrong; ``problems`` says where, what is allowed and what to do
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

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


class FitcheckError(Exception):
    """Root of every error that fitcheck raises on purpose."""


class BadInput(FitcheckError):
    """The input cannot be assessed; nothing was kept."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(str(problem) for problem in self.problems))
