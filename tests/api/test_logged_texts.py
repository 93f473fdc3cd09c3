"""Whatever goes wrong with the database, nothing that a client sent stands in the log of a real server."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from tests.support.machine import Machine

MARK = "Sekrit"
NAMES: dict[str, Any] = {
    "person": {"id": f"{MARK}-person"},
    "assessor": {"id": f"{MARK}-assessor"},
    **{name: f"{MARK}-{name}" for name in ("visit", "notes")},
    "horse": {"id": f"{MARK}-horse"},
}
SENT = EXAMPLES[0].fitting | NAMES
BREAK = {
    "refused": "CREATE TRIGGER refuse BEFORE INSERT ON contents BEGIN SELECT RAISE(ABORT, 'no'); END",
    "unique": "CREATE UNIQUE INDEX once ON records (person)",
    "gone": "DROP TABLE idempotency",
    "head": "DROP TRIGGER head_never_removed; DELETE FROM head",
    "not-text": "DROP TRIGGER records_never_changed; UPDATE records SET visit = CAST(x'53656b726974ff' AS TEXT)",
}


@pytest.mark.parametrize("way", BREAK)
def test_nothing_that_was_sent_is_logged_when_the_database_fails(tmp_path: Path, root: Path, way: str) -> None:
    machine = Machine(tmp_path, root)
    statuses: set[int] = set()
    with machine.serving() as run, httpx.Client(base_url=run.address, timeout=30) as client:
        assert client.post("/v1/assessments", json=SENT).status_code == 201
        with closing(sqlite3.connect(tmp_path / "records.sqlite3")) as other:
            other.executescript(BREAK[way])
        for number in range(2):
            headers = {"idempotency-key": f"{MARK}-{number}"}
            statuses.add(client.post("/v1/assessments", json=SENT, headers=headers).status_code)
            statuses.add(client.post("/v1/assessments", json=SENT).status_code)
        statuses.add(client.get(f"/v1/visits/{MARK}-visit").status_code)
        statuses.add(client.get(f"/v1/assessments?person={MARK}-person").status_code)
        lines = run.lines()
    assert 503 in statuses
    said = run.log.read_text(encoding="ascii")
    assert "Traceback" in said
    assert any(line["level"] == "error" for line in lines)
    assert MARK not in said
