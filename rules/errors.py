"""The root of every error that is raised on purpose, and what can go wrong in the rules layer.

The whole tree stands in :mod:`fitcheck.errors`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

__all__ = ["WRONG_TYPE", "EngineFault", "FitcheckError", "RulebookError", "RulesError"]


class FitcheckError(Exception):
    """Root of every error that rules, fitcheck and api raise on purpose."""


class RulesError(FitcheckError):
    """Root of every error that the rules layer raises on purpose."""


class RulebookError(RulesError):
    """A fault in the rulebook.

    ``file`` is the name of the TOML file, ``key`` the dotted key in it, ``problem`` what is wrong there and
    ``remedy`` what to write instead.  ``line`` is where the key stands, or the table that lacks it, where that is
    known; ``others`` are further faults of the same book, as far as they can be told truly beside this one.
    """

    line: int | None = None
    others: tuple[RulebookError, ...] = ()

    def __init__(self, file: str, key: str, problem: str, remedy: str) -> None:
        self.file = file
        self.key = key
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{file}: {key}: {problem}. {remedy}")

    @property
    def all(self) -> tuple[RulebookError, ...]:
        """This fault and the others."""
        return (self, *self.others)


class EngineFault(RulesError):
    """The rules engine failed or stopped early, so what it found so far must not be used."""


WRONG_TYPE: Final[Mapping[str, tuple[str, str]]] = {
    "bool_type": ("is neither true nor false", "Write true or false, without quotation marks"),
    "float_type": ("is not a number", "Write a plain number, without quotation marks"),
    "int_type": ("is not a whole number", "Write it without a decimal point or quotation marks"),
    "list_type": ("stands where a list belongs", "Write a list in square brackets"),
    "string_type": ("is not text", "Write it in quotation marks"),
}
"""What is said of a value of the wrong type, by pydantic's kind of fault: what it is or does, and what to write."""
