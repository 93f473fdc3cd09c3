"""Sessions of practice outside of a store: a line of JSON each, with the key ``practice``."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from fitcheck.errors import BadInput, Problem
from fitcheck.practice import PracticeSession, parse_practice, practising_person
from fitcheck.records.practice import StoredPractice

__all__ = ["PRACTICE_KEY", "practice_in", "practice_lines"]

PRACTICE_KEY: Final = "practice"
"""A line with this key is a session of practice, and no record."""


def practice_lines(sessions: Iterable[StoredPractice]) -> Iterator[bytes]:
    """The line of each session, with its end."""
    for each in sessions:
        line = {PRACTICE_KEY: each.session.model_dump(mode="json"), "person": each.person, "created": each.created}
        yield json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def practice_in(line: Mapping[str, Any]) -> tuple[str, PracticeSession]:
    """The person and the session of such a line. Raises BadInput."""
    person = line.get("person")
    if not isinstance(person, str):
        raise BadInput([Problem("person", None, "the id of a person", "It is missing, or not text.")])
    return practising_person(person), parse_practice(line[PRACTICE_KEY])
