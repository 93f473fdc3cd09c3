"""The groups of frozen answers, each made anew by asking the tool of today."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Final

from tests.frozen.commands import command_outputs
from tests.frozen.demos import demo_answers
from tests.frozen.fittings import fitting_answers
from tests.frozen.openapi import openapi_parts
from tests.frozen.requests import request_answers
from tests.frozen.stores import store_answers

__all__ = ["GROUPS", "answers_of"]

GROUPS: Final[Mapping[str, Callable[[], Iterator[tuple[str, str]]]]] = {
    "demos": demo_answers,
    "fittings": fitting_answers,
    "openapi": openapi_parts,
    "requests": request_answers,
    "commands": command_outputs,
    "stores": store_answers,
}


def answers_of(group: str) -> Iterator[tuple[str, str]]:
    """Each answer of ``group``: its key and its text."""
    yield from GROUPS[group]()
