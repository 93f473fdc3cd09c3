"""Where records lie, as people and settings write it."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest
import sqlalchemy as sa

from fitcheck.records import SETTING, NotAStore, StoreError, default_url, open_store
from fitcheck.records.databases import address_of, file_of, shown


def test_the_setting_comes_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SETTING, "postgresql://low-meadow/yard")
    assert default_url() == "postgresql://low-meadow/yard"


def test_without_a_setting_records_lie_in_the_users_data_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    """XDG Base Directory Specification: $XDG_DATA_HOME, or $HOME/.local/share where it is unset or empty."""
    monkeypatch.delenv(SETTING, raising=False)
    monkeypatch.setenv("HOME", "/home/yard")
    for unset in ("", None):
        if unset is None:
            monkeypatch.delenv("XDG_DATA_HOME", raising=False)
        else:
            monkeypatch.setenv("XDG_DATA_HOME", unset)
        assert default_url() == "sqlite:////home/yard/.local/share/fitcheck/records.sqlite3"
    monkeypatch.setenv("XDG_DATA_HOME", "/data")
    assert default_url() == "sqlite:////data/fitcheck/records.sqlite3"


@pytest.mark.parametrize(
    "url", ["postgresql://u:secret@h/d", "postgres://u:secret@h/d", "postgresql+psycopg://u:secret@h/d"]
)
def test_every_way_to_write_postgresql_means_psycopg(url: str) -> None:
    address = address_of(url)
    assert address.drivername == "postgresql+psycopg"
    assert address.password == "secret"  # noqa: S105  (invented)
    assert "secret" not in shown(address)
    assert file_of(address) is None


@pytest.mark.parametrize(
    "url",
    [
        "",
        "records.sqlite3",
        "sqlite://",
        "sqlite:///:memory:",
        "sqlite:///file:x?uri=true",
        "mysql://h/d",
        "postgresql+psycopg2://h/d",
        "sqlite+aiosqlite:///x",
        "postgresql://h:port/d",
    ],
)
def test_what_is_no_address_of_a_store_is_told_with_what_is(url: str) -> None:
    with pytest.raises(NotAStore, match=r"sqlite:////folder/records\.sqlite3") as caught:
        open_store(url)
    assert "secret" not in str(caught.value)


def test_a_relative_file_lies_where_the_program_was_started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    with open_store("sqlite:///records.sqlite3") as store:
        assert store.url.endswith(f":///{tmp_path}/records.sqlite3")
        monkeypatch.chdir("/")
        assert store.head().number == 0
    assert (tmp_path / "records.sqlite3").is_file()


def test_postgresql_without_its_driver_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(*_args: object, **_options: object) -> sa.Engine:
        return importlib.import_module("no_such_driver").engine  # type: ignore[no-any-return]

    monkeypatch.setattr("fitcheck.records.databases._postgres", missing)
    with pytest.raises(StoreError, match="extra postgres"):
        open_store("postgresql://low-meadow/yard")
