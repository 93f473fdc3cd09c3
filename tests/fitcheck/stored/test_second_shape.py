"""A store whose answers are of the second shape, kept by release 1.1.0 before its schema had keys of other systems.

The folder ``second_shape`` has it as a SQLite file and as ``pg_dump`` wrote it out of PostgreSQL: the demo feet by
rulebook 1.4.0, one nailed and told in German, one by the rulebook of the first contract, a correction, an override, one
person erased.
"""

from __future__ import annotations

import asyncio
import gzip
import io
import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import httpx
import psycopg
import pytest

from api.application import create_app
from fitcheck.records import Head, Record, RecordFilter, Store, open_store, verify
from fitcheck.records.answer_shape import shape_of
from fitcheck.records.exchange.importing import Importer
from fitcheck.records.exchange.portable import line_of
from fitcheck.settings import ServiceSettings
from fitcheck.stored import assessment_of
from fitcheck.stored.regrade import Regrading
from rules import first_rulebook, shipped_rulebook
from tests.contract_one.kept import empty_in
from tests.endurance.databases import DATABASES, postgres

KEPT: Final = Path(__file__).parent / "second_shape"
HEAD: Final = Head(29, "sha256:01dc30df8ffca463eaea4dbb6c3de81522da7b953dbd9041db10df58af209673")


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    """The address of a PostgreSQL server."""
    with postgres() as database:
        yield database.url


@pytest.fixture(params=DATABASES)
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """A copy of the store, brought up to date."""
    name = str(request.param)
    with empty_in(name, tmp_path, request.getfixturevalue("server") if name == "postgresql" else "") as address:
        if name == "sqlite":
            (tmp_path / "records.sqlite").write_bytes(gzip.decompress((KEPT / "records.sqlite.gz").read_bytes()))
        else:
            with psycopg.connect(address) as connection:
                connection.execute(gzip.decompress((KEPT / "records.postgres.sql.gz").read_bytes()))
        with open_store(address, create=False) as opened:
            yield opened


def assessments(store: Store) -> list[Record]:
    return [each for each in store.each_record(RecordFilter(kind="assessment")) if not each.erased]


def get(store: Store, *addresses: str) -> list[httpx.Response]:
    async def send() -> list[httpx.Response]:
        app = create_app(settings=ServiceSettings(), store=store)
        transport = httpx.ASGITransport(app=app, client=("127.0.0.1", 1))
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
            return [await client.get(address) for address in addresses]

    return asyncio.run(send())


def test_it_is_proved_with_the_head_that_it_had(store: Store) -> None:
    assert store.head() == HEAD
    assert list(verify(store, expected=HEAD)) == []
    assert Counter(record.kind for record in store.following(0, 100)) == {"assessment": 27, "override": 1, "erasure": 1}


def test_each_answer_is_read_whole_by_the_reader_of_its_shape_and_given_again_to_the_byte(store: Store) -> None:
    found = assessments(store)
    first = first_rulebook().digest
    for record in found:
        answer = json.loads(record.answer)
        assert shape_of(answer) == (1 if record.rulebook_digest == first else 2)
        assert json.loads(assessment_of(record).model_dump_json()) == answer
    assert {record.decision for record in found} >= {"release", "go_on", "put_right", "stop_and_refer", "incomplete"}
    answers = get(store, *(f"/v1/assessments/{record.id}" for record in found))
    assert [answer.content for answer in answers] == [record.answer for record in found]
    fittings = get(store, *(f"/v1/assessments/{record.id}/fitting" for record in found))
    assert [fitting.content for fitting in fittings] == [record.received for record in found]


def test_reports_drawings_and_marks_are_made_of_it(store: Store) -> None:
    for record in assessments(store):
        address = f"/v1/assessments/{record.id}"
        report, drawing, marks = get(store, f"{address}/report.html", f"{address}/drawing.svg", f"{address}/marks")
        assert (report.status_code, drawing.status_code) == (200, 200)
        assert record.id in report.text
        # What a later scheme does not mark, it says.
        assert marks.status_code == 200 or marks.json()["type"].endswith("cannot-mark")


def test_its_events_are_named_by_the_shape(store: Store) -> None:
    [answer] = get(store, "/v1/events?after=0-0000000000000000&limit=50")
    types = Counter(event["type"].removeprefix("fitcheck.") for event in answer.json())
    assert types == {
        "assessment.kept.v2": 25,
        "assessment.kept.v1": 2,
        "override.kept.v1": 1,
        "records.erased.v1": 1,
    }


def test_it_is_judged_again_and_goes_on(store: Store) -> None:
    for book in (shipped_rulebook(), first_rulebook()):
        regraded = list(Regrading(store, book, RecordFilter(kind="assessment")).each())
        assert sum(each.case is not None for each in regraded) == 26
        assert sum(each.erased for each in regraded) == 1
    by_first = {
        each.record.number: each.case
        for each in Regrading(store, first_rulebook(), RecordFilter(kind="assessment")).each()
    }
    [own] = [each for each in assessments(store) if each.rulebook_digest == first_rulebook().digest]
    case: Any = by_first[own.number]
    assert (case.before, case.after, case.findings) == (own.decision, own.decision, ())


def test_it_is_taken_into_another_store(store: Store, tmp_path: Path) -> None:
    lines = b"".join(line_of(record) for record in store.following(0, 100))
    with open_store(f"sqlite:///{tmp_path / 'other.sqlite3'}") as other:
        importer = Importer(other, shipped_rulebook)
        assert list(importer.take(io.BytesIO(lines), "ndjson")) == []
        assert importer.counts == {"kept": 27, "erased": 2}
        assert [each.answer for each in assessments(other)] == [each.answer for each in assessments(store)]
        assert list(verify(other)) == []
