"""The command ``fitcheck records`` on a store."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from fitcheck.cli import main
from fitcheck.records import Store
from tests.support.kept_fittings import kept_fittings

Captured = pytest.CaptureFixture[str]
Run = Callable[..., int]


@pytest.fixture
def run(store: Store) -> Run:
    """Runs ``fitcheck records`` on the store."""
    address = store._engine.url.render_as_string(hide_password=False)
    return lambda *words: main(["records", *words, "--records", address])


@pytest.fixture
def yard(store: Store) -> Store:
    """Six kept fittings."""
    store.keep_many([*kept_fittings(6)])
    return store
