"""A store with something of everything, and a portable backup."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from fitcheck.records import (
    Draft,
    Idempotency,
    Store,
    open_store,
)
from fitcheck.records.backup import back_up
from fitcheck.records.keys import AccessKeys, KeyUse
from tests.support.mounts import small_disk_at

Make = Callable[..., Draft]
KEY = Idempotency("send-1", "", "sha256:1")


@pytest.fixture
def full(store: Store, draft: Make) -> Store:
    """A store with something of everything: an erased person, an erasure, keys and their uses, an idempotency key."""
    first, *_ = store.keep_many([draft(), draft(person="A-7"), draft(received=bytes(range(256)), horse="H \u00e4 '=1")])
    store.keep(draft(about=first.id, source="sha256:" + "c" * 64), KEY)
    store.erase("A-7", reason="asked for", created="2026-04-01T09:00:00.000Z")
    keys = AccessKeys(store)
    made, _ = keys.make("the yard's tablet", ["read"])
    keys.note_uses([KeyUse(made.id, "2026-03-04T10:00:00.000Z", "r-1", "POST", "/v1/assessments", 201)])
    return store


@pytest.fixture
def dump(postgres_url: str, draft: Make, tmp_path: Path) -> Path:
    """A portable backup: a head, three records, an end."""
    with open_store(postgres_url) as store:
        store.keep_many([draft(), draft(), draft()])
        back_up(store, tmp_path / "dump")
    return tmp_path / "dump"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 2 MB, where mounting one is allowed."""
    with small_disk_at(tmp_path / "disk") as mounted:
        if not mounted:
            pytest.skip("a disk cannot be mounted here")
        yield tmp_path / "disk"
