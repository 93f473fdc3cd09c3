"""Stores that release 1.0.0 kept are opened, proved, read, told of, judged again and gone on with."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Iterator
from html import escape
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from fitcheck.cli import main
from fitcheck.records import Head, RecordFilter, Store, open_store, verify
from fitcheck.records.backup import restore
from fitcheck.records.exchange.portable import fields_of
from fitcheck.records.keys import AccessKeys
from fitcheck.stored.regrade import Regrading
from tests.contract_one.corpus import FEET, first_book
from tests.contract_one.kept import (
    KEPT,
    REVOKED,
    ask,
    assessments,
    by_kind,
    empty_in,
    kept_in,
    lost,
    read_told,
    records_kept,
    told,
    unpack,
)
from tests.contract_one.meant import meant_changes
from tests.endurance.databases import DATABASES, postgres

RECORDS = records_kept()
HEAD = Head(RECORDS[-1]["number"], RECORDS[-1]["digest"])


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    """The address of a PostgreSQL server."""
    with postgres() as database:
        yield database.url


@pytest.fixture(scope="module", params=DATABASES)
def database(request: pytest.FixtureRequest) -> tuple[str, str]:
    """The name of the database, and where its server is."""
    name = str(request.param)
    return name, request.getfixturevalue("server") if name == "postgresql" else ""


@pytest.fixture(scope="module")
def address(database: tuple[str, str], tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A copy of the store, which is only read."""
    name, server = database
    with kept_in(name, tmp_path_factory.mktemp("kept"), server) as found:
        yield found


@pytest.fixture(scope="module")
def store(address: str) -> Iterator[Store]:
    """That copy, brought up to date."""
    with open_store(address, create=False) as opened:
        yield opened


@pytest.fixture
def own(database: tuple[str, str], tmp_path: Path) -> Iterator[Store]:
    """A copy of the store for one test alone, which may keep in it."""
    name, server = database
    with kept_in(name, tmp_path, server) as found, open_store(found, create=False) as opened:
        yield opened


def test_the_kept_records_are_of_every_kind() -> None:
    assert Counter(record["kind"] for record in RECORDS) == {"assessment": 39, "override": 2, "erasure": 1}
    assert sum(record["erased"] for record in RECORDS) == 2
    assert sum(record["about"] is not None for record in RECORDS) == 3
    assert {"release", "put_right", "stop_and_refer", "incomplete"} <= {record["decision"] for record in RECORDS}
    assert len({record["rulebook_digest"] for record in RECORDS if record["kind"] == "assessment"}) == 2
    assert len({record["assessor"] for record in RECORDS}) > 3
    assert any('"language":"de"' in record["answer"] for record in RECORDS)


def test_every_record_is_there_as_it_was_and_the_chain_is_whole(store: Store) -> None:
    assert list(verify(store, expected=HEAD)) == []
    assert store.head() == HEAD
    for before, record in zip(RECORDS, store.following(0, 100), strict=True):
        assert lost(before, fields_of(record), "record") == set()


def test_the_portable_backup_restores_it_into_either_database(database: tuple[str, str], tmp_path: Path) -> None:
    name, server = database
    with empty_in(name, tmp_path, server) as empty, open_store(empty) as restored:
        assert restore(unpack("backup.ndjson", tmp_path), restored) == HEAD
        assert list(verify(restored, expected=HEAD)) == []
        for before, record in zip(RECORDS, restored.following(0, 100), strict=True):
            assert lost(before, fields_of(record), "record") == set()


def test_what_is_told_of_it_is_what_was_told(store: Store) -> None:
    changed = lost(by_kind(read_told()), by_kind(told(store)), "")
    meant = {f".{what}" for what in meant_changes("stores")}
    assert changed - meant == set()
    assert meant - changed == set(), "nothing changes there any more: take the entry out"


def test_what_was_told_has_something_of_everything() -> None:
    kinds = by_kind(read_told())
    assert kinds.keys() == {
        *("list", "marks", "overrides", "visit", "visit marks", "progress", "agreement", "events", "regrade"),
    }
    assert {sheet["assessor"] is None for sheet in kinds["marks"]["document"] if "assessor" in sheet} == {True, False}
    assert any(visit["pairs"] for visit in kinds["visit"]["document"] if "pairs" in visit)
    assert all({200} <= set(kind["status"]) <= {200, 404, 410} for kind in kinds.values())


def test_each_answer_is_given_again_byte_for_byte(store: Store) -> None:
    found = assessments(store)
    assert len(found) == 37
    answers = ask(store, *(("GET", f"/v1/assessments/{record.id}", None) for record in found))
    assert [answer.content for answer in answers] == [record.answer for record in found]


def test_reports_and_drawings_say_what_was_found(store: Store) -> None:
    found = assessments(store)
    reports = ask(store, *(("GET", f"/v1/assessments/{record.id}/report.html", None) for record in found))
    drawings = ask(store, *(("GET", f"/v1/assessments/{record.id}/drawing.svg", None) for record in found))
    for record, report, drawing in zip(found, reports, drawings, strict=True):
        assert (report.status_code, drawing.status_code) == (200, 200)
        for finding in json.loads(record.answer)["findings"]:
            assert escape(finding["finding"], quote=False) in report.text.replace("&#39;", "'"), record.id
        assert ET.fromstring(drawing.text).tag.endswith("svg")  # noqa: S314  (our own drawing)


def test_under_the_rulebook_of_the_first_contract_every_decision_is_what_it_was(store: Store) -> None:
    first = first_book()
    judged = {record.number: record for record in assessments(store) if record.rulebook_digest == first.digest}
    assert len(judged) == 36
    regraded = {each.record.number: each for each in Regrading(store, first, RecordFilter(kind="assessment")).each()}
    for number, record in judged.items():
        case = regraded[number].case
        assert case is not None, regraded[number].problem
        assert (case.before, case.after, case.findings) == (record.decision, record.decision, ())


def test_the_commands_prove_and_export_it(address: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["records", "verify", "--records", address, "--expect", f"{HEAD.number}:{HEAD.digest}"]) == 0
    capsys.readouterr()
    assert main(["records", "export", "--records", address]) == 0
    exported = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert lost(RECORDS, exported, "record") == set()
    found = next(record for record in RECORDS if record["decision"] == "put_right")
    assert main(["report", found["id"], "--records", address]) == 0
    assert found["id"] in capsys.readouterr().out


def test_records_access_keys_and_idempotency_keys_are_gone_on_with(own: Store) -> None:
    sent = next(record for record in assessments(own) if record.person == "A-23")
    body = (FEET / "high-nail.json").read_bytes()
    key = {"idempotency-key": "send-1"}
    again, other = ask(own, ("POST", "/v1/assessments", sent.received), ("POST", "/v1/assessments", body), **key)
    assert (again.status_code, again.content, other.status_code) == (201, sent.answer, 422)
    assert own.head() == HEAD
    [refused] = ask(own, ("POST", "/v1/assessments", body), token=REVOKED)
    assert refused.status_code == 401
    change: dict[str, Any] = {"what": "set_mark", "criterion": "nails", "mark": 5, "reason": "Looked at it twice."}
    override = {"about": sent.id, "assessor": {"id": "S-12"}, "changes": [change]}
    overriding = ("POST", f"/v1/assessments/{sent.id}/overrides", json.dumps(override).encode())
    # Marks are overridden in one's own name: a key of the first contract, which is a device's, no longer does.
    [not_in_its_name] = ask(own, overriding)
    assert not_in_its_name.status_code == 403
    assert own.head() == HEAD
    _, assessors = AccessKeys(own).make("S-12", ["mark"], holder="person")
    [overridden] = ask(own, overriding, token=assessors.text)
    kept = ask(
        own,
        ("GET", f"/v1/assessments/{sent.id}/marks", None),
        ("POST", f"/v1/assessments?corrects={sent.id}", sent.received),
    )
    assert [answer.status_code for answer in (overridden, *kept)] == [201, 200, 201]
    assert kept[0].json()["assessor"] is not None
    next_record, correction = own.following(HEAD.number, 9)
    assert (next_record.kind, next_record.previous) == ("override", HEAD.digest)
    assert correction.about == sent.id
    own.erase("A-21", reason="asked for", created="2026-12-01T10:00:00.000Z")
    assert list(verify(own, expected=HEAD)) == []


def test_an_export_of_it_is_taken_into_another_store(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = [json.dumps(record, ensure_ascii=False) for record in RECORDS]
    file = tmp_path / "export.ndjson"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    address = f"sqlite:///{tmp_path / 'records.sqlite3'}"
    assert main(["records", "import", str(file), "--records", address]) == 0
    assert capsys.readouterr().out.startswith("39 records taken in, 0 fittings assessed and kept, 0 known already, 3 ")
    with open_store(address, create=False) as store:
        assert list(verify(store)) == []
        assert [record.source for record in store.following(0, 100)] == [
            record["digest"] for record in RECORDS if not record["erased"] and record["kind"] != "erasure"
        ]


def test_the_kept_files_are_of_the_schema_of_the_release(tmp_path: Path) -> None:
    assert {path.name for path in KEPT.iterdir()} == {
        *("records.sqlite.gz", "records.postgres.sql.gz", "backup.ndjson.gz", "told.json.gz"),
    }
    opened = sqlite3.connect(unpack("records.sqlite", tmp_path))
    assert opened.execute("SELECT version_num FROM records_schema").fetchall() == [("0002",)]
    opened.close()


@pytest.mark.parametrize(
    ("after", "paths"),
    [
        ({"a": 1, "b": [{"c": 1}, {"c": 2}], "d": 0}, set()),
        ({"a": 2, "b": [{"c": 1}, {"c": 2}]}, {".a"}),
        ({"b": [{"c": 1}, {"c": 2, "e": 1}]}, {".a"}),
        ({"a": 1, "b": [{"c": 1}]}, {".b"}),
        ({"a": 1, "b": [{"c": 1}, {}]}, {".b[].c"}),
    ],
)
def test_what_is_lost_is_named_by_its_path(after: Any, paths: set[str]) -> None:
    assert lost({"a": 1, "b": [{"c": 1}, {"c": 2}]}, after, "") == paths
