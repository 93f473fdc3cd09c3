"""Fixtures that several test modules share."""

from __future__ import annotations

import copy
import json
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from fitcheck.records import SETTING
from tests.support.paths import ROOT

# Programs that the tests start again and again compile what they import only once, and so do the tests.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False


def _takes_long(item: pytest.Item) -> bool:
    """Whether the item is marked as long: in itself, or on the one database that the mark names."""
    mark = item.get_closest_marker("long")
    return mark is not None and (not mark.args or f"[{mark.args[0]}" in item.name)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what takes long, except where it is asked for (``-m long``) or named."""
    if config.option.markexpr == "long" or any("::" in argument for argument in config.args):
        return
    long = [item for item in items if _takes_long(item)]
    config.hook.pytest_deselected(items=long)
    items[:] = [item for item in items if item not in long]


@pytest.fixture(scope="session", autouse=True)
def records_apart(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """What tests keep lies in a folder of their own, also what the programs keep that they start."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(SETTING, f"sqlite:///{tmp_path_factory.mktemp('records') / 'records.sqlite3'}")
        yield


@pytest.fixture(scope="session")
def root() -> Path:
    """The folder of the project."""
    return ROOT


@pytest.fixture
def good() -> dict[str, Any]:
    """A finished fore foot on which everything was observed and everything is right, as raw JSON."""
    fitting: dict[str, Any] = json.loads((ROOT / "cases_demo" / "good-draught-fore.json").read_text(encoding="utf-8"))
    return fitting


@pytest.fixture
def changed(good: dict[str, Any]) -> Callable[..., dict[str, Any]]:
    """The good fitting with values put at dotted paths (list positions as numbers); ``...`` removes a key."""

    def change(**edits: Any) -> dict[str, Any]:
        fitting = copy.deepcopy(good)
        for path, value in edits.items():
            *parents, last = path.split("__")
            here: Any = fitting
            for step in parents:
                here = here[int(step)] if step.isdigit() else here[step]
            if value is ...:
                del here[int(last) if last.isdigit() else last]
            elif isinstance(here, list):
                here[int(last)] = value
            else:
                here[last] = value
        return fitting

    return change
