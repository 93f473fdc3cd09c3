"""Stores to test with, and drafts of what a yard would keep. Low Meadow is invented, and so is everybody in it."""

from __future__ import annotations

import itertools
import uuid
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fitcheck.records import Draft, Store, open_store

_BASE = Draft(
    kind="assessment",
    received=b'{"foot": "left_fore",  "notes": "\xe2\x82\xac 1.0"}\n',
    answer=b'{"decision":"release","u":1.0}',
    id="",
    created="2026-03-04T10:00:00.000Z",
    person="A-3",
    assessor="S-1",
    horse="H-017",
    foot="left_fore",
    visit="2026-03-04-H-017",
    stage="finished",
    decision="release",
    fitted="2026-03-04",
    rulebook_version="1.1.0",
    rulebook_digest="sha256:" + "b" * 64,
)


@pytest.fixture
def draft() -> Callable[..., Draft]:
    """Makes a draft with a new id, a second later than the one before; keywords change it."""
    seconds = itertools.count()

    def make(**changes: Any) -> Draft:
        at = next(seconds)
        made = replace(_BASE, id=str(uuid.uuid4()), created=f"2026-03-04T10:{at // 60:02}:{at % 60:02}.000Z")
        return replace(made, **changes)

    return make


@pytest.fixture
def url(tmp_path: Path) -> str:
    """The address of a store that is not yet there."""
    return f"sqlite:///{tmp_path / 'yard' / 'records.sqlite3'}"


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    """An empty store."""
    with open_store(url) as opened:
        yield opened
