"""The page in a real browser, from a real server that keeps its records in a folder of the test."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.phone import Phone, browser_missing
from tests.support.served import Served


@pytest.fixture(scope="session", autouse=True)
def _browser() -> None:
    """Passes the tests over where there is no browser, except in CI, where that is a fault."""
    reason = browser_missing()
    if reason is not None:
        assert os.environ.get("CI") != "true", reason
        pytest.skip(reason)


@pytest.fixture(scope="session")
def service(root: Path, tmp_path_factory: pytest.TempPathFactory, _browser: None) -> Iterator[Served]:
    """One server for all tests that leave it running."""
    folder = tmp_path_factory.mktemp("service")
    with Served(root, folder, f"sqlite:///{folder / 'records.sqlite3'}") as served:
        yield served


@pytest.fixture(scope="session")
def _telephone(service: Served, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Phone]:
    """One browser for all tests that need no profile of their own."""
    with Phone(tmp_path_factory.mktemp("profile"), service.url) as opened:
        yield opened


@pytest.fixture
def phone(_telephone: Phone) -> Phone:
    """A telephone that has never seen the page."""
    _telephone.forget()
    return _telephone
