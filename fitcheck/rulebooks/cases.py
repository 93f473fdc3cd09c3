"""Where a rule can be seen at work: the demo cases in which it fires, and in a checkout the table cases that try it."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, NamedTuple

__all__ = ["DemoCase", "TableCase", "cases_folder", "demo_cases", "table_cases"]

_ANSWER = ".answer.json"
_CHECKOUT = Path(__file__).parents[2]


class DemoCase(NamedTuple):
    """A demo case in which a rule fires: its name, the places, and the decision on the whole foot."""

    name: str
    places: tuple[str, ...]
    decision: str


class TableCase(NamedTuple):
    """A case of the tables that try every limit: the file it stands in, and its name, which says what it shows."""

    file: str
    name: str


def cases_folder() -> Traversable:
    """The folder of the demo cases: inside the installed package, or beside it in a checkout."""
    installed = files("fitcheck") / "cases_demo"
    return installed if installed.is_dir() else _CHECKOUT / "cases_demo"


def demo_cases(rule_id: str) -> Iterator[DemoCase]:
    """The demo cases in which the rule fires by the shipped rulebook, in the order of their names."""
    for entry in sorted(cases_folder().iterdir(), key=lambda each: each.name):
        if entry.name.endswith(_ANSWER):
            answer = json.loads(entry.read_text(encoding="utf-8"))
            places = tuple(finding["place"] for finding in answer["findings"] if finding["rule"] == rule_id)
            if places:
                yield DemoCase(entry.name.removesuffix(_ANSWER), places, answer["decision"])


def table_cases(rule_id: str, folder: Path = _CHECKOUT / "tests" / "cases") -> Iterator[TableCase]:
    """The table cases that try the rule, and the whole fittings in which it fires; none where there is no checkout."""
    for file, case in _tables(folder):
        expected = {found.partition("@")[0] for found in case.get("expect", ())}
        if case.get("rule") == rule_id or ("rule" not in case and rule_id in expected):
            yield TableCase(file, case["name"])


@cache
def _tables(folder: Path) -> tuple[tuple[str, dict[str, Any]], ...]:
    return tuple(
        (path.name, case)
        for path in sorted(folder.glob("*.toml"))
        for case in tomllib.loads(path.read_text(encoding="utf-8")).get("case", ())
    )
