"""Every error that is raised on purpose has one root, and the tree that is drawn is the tree that there is."""

from __future__ import annotations

import importlib
import pkgutil
import re
from types import ModuleType

import api
import fitcheck
import fitcheck.errors
import rules
from fitcheck import FitcheckError

CONTROL_FLOW = {"BadBook"}
"""Public exceptions that end a command and reach no caller."""
MISTAKES = {"NotBundled", "UndeclaredRoute"}
"""Mistakes in programming."""
OF_THE_SERVICE = {"ProblemError", "TooManyWaiting"}


def modules(*packages: ModuleType) -> list[ModuleType]:
    names = [
        found.name
        for package in packages
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
        if not found.name.endswith("__main__") and ".versions." not in found.name
    ]
    return [importlib.import_module(name) for name in names]


def exceptions() -> dict[str, type[BaseException]]:
    return {
        name: value
        for module in modules(rules, fitcheck, api)
        for name, value in vars(module).items()
        if isinstance(value, type)
        and issubclass(value, BaseException)
        and value.__module__ == module.__name__
        and not name.startswith("_")
    }


def test_every_error_has_the_one_root() -> None:
    outside = {name for name, error in exceptions().items() if not issubclass(error, FitcheckError)}
    assert outside == CONTROL_FLOW | MISTAKES


def test_the_tree_that_is_drawn_is_the_tree_that_there_is() -> None:
    drawn: dict[str, str] = {}
    parents = ["FitcheckError"]
    for indent, name in re.findall(r"^    ((?:\|   )*)\+-- (\w+)", fitcheck.errors.__doc__ or "", re.MULTILINE):
        depth = len(indent) // 4 + 1
        drawn[name] = parents[depth - 1]
        parents[depth:] = [name]
    real = {
        name: error.__mro__[1].__name__
        for name, error in exceptions().items()
        if issubclass(error, FitcheckError) and error is not FitcheckError
    }
    assert drawn == {name: base for name, base in real.items() if name not in OF_THE_SERVICE}
