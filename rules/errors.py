"""The root of every error that is raised on purpose, and what can go wrong in the rules layer.

The whole tree stands in :mod:`fitcheck.errors`.
"""

from __future__ import annotations

__all__ = ["EngineFault", "FitcheckError", "RulebookError", "RulesError"]


class FitcheckError(Exception):
    """Root of every error that rules, fitcheck and api raise on purpose."""


class RulesError(FitcheckError):
    """Root of every error that the rules layer raises on purpose."""


class RulebookError(RulesError):
    """A fault in the rulebook.

    ``file`` is the name of the TOML file, ``key`` the dotted key in it, ``problem`` what is wrong there and
    ``remedy`` what to write instead.
    """

    def __init__(self, file: str, key: str, problem: str, remedy: str) -> None:
        self.file = file
        self.key = key
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{file}: {key}: {problem}. {remedy}")


class EngineFault(RulesError):
    """The rules engine failed or stopped early, so what it found so far must not be used."""
