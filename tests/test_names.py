"""Modules, classes, functions and parameters have the standard words of the field, not prose.

Names that the contract fixes for outside clients are left alone: the fields of what is sent and answered.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from typing import Final

import pytest

from tests.support.paths import ROOT

PACKAGES: Final = ("api", "fitcheck", "rules")
PROSE: Final = {
    *("agreed", "amiss", "asked", "asks", "attention", "backlog", "befell", "bounded", "complaint", "complaints"),
    *("considered", "considering", "considers", "described", "envelope", "fed", "gate", "given", "joining", "kept"),
    *("lane", "lanes", "mesh", "nought", "observed", "possible", "reckon", "reckoned", "reckoning", "said", "sieve"),
    *("spoilt", "spoken", "stopping", "telling", "tells", "told", "wanted", "whoever"),
}
"""Words that no name may have as a part, and what says it better: see DEVELOPERS.md."""


def parts_of(name: str) -> set[str]:
    """The words of a name in snake or camel case, in lower case."""
    return {part.lower() for part in re.findall(r"[A-Z]?[a-z0-9]+|[A-Z]+(?![a-z])", name)}


def names_in(source: str) -> Iterator[tuple[str, int]]:
    """Each class, function and parameter of a module with its line; fields of classes are the contract's."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            yield node.name, node.lineno
        if isinstance(node, ast.arg):
            yield node.arg, node.lineno


@pytest.mark.parametrize("package", PACKAGES)
def test_no_name_is_prose(package: str) -> None:
    modules = sorted((ROOT / package).rglob("*.py"))
    assert modules
    prose = [
        f"{module.relative_to(ROOT)}:{line}: {name}"
        for module in modules
        for name, line in [(module.stem, 0), *names_in(module.read_text(encoding="utf-8"))]
        if parts_of(name) & PROSE
    ]
    assert prose == []


def test_prose_is_found_in_every_kind_of_name() -> None:
    source = "class ToldBook: ...\ndef said(x): ...\nasync def keep(as_given): ...\nkeep = lambda wanted: wanted\n"
    assert [name for name, _ in names_in(source) if parts_of(name) & PROSE] == [
        "ToldBook",
        "said",
        "as_given",
        "wanted",
    ]


@pytest.mark.parametrize(("package", "most"), [("api", 6), ("fitcheck", 8), ("rules", 8)])
def test_few_modules_lie_loose_in_a_package(package: str, most: int) -> None:
    assert len(list((ROOT / package).glob("*.py"))) <= most
