"""GET /v1/assessments by stage, grade, rule, day of fitting and what counts; the tables of findings and readings."""

from __future__ import annotations

import csv
import io
import json
import uuid
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.application import create_app
from api.openapi.examples import EXAMPLES
from fitcheck.records import Draft, Store, open_store
from tests.endurance.databases import address_in

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
_KEPT = Draft(
    kind="assessment",
    received=b"{}",
    answer=b"{}",
    id="",
    created="2026-03-04T10:00:00.000Z",
    foot="left_fore",
    visit="v-1",
    stage="finished",
    decision="release",
    fitted="2026-03-04",
    rulebook_version="2.0.0",
    rulebook_digest="sha256:" + "b" * 64,
)


def one(*found: tuple[str, str], **changes: Any) -> Draft:
    answer = json.dumps({"findings": [{"rule": rule, "grade": grade} for rule, grade in found]})
    return replace(_KEPT, **({"id": str(uuid.uuid4()), "answer": answer.encode()} | changes))


@pytest.fixture(params=["sqlite", "postgresql"])
def both(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """A store on each database."""
    with address_in(request.param, tmp_path) as url, open_store(url) as opened:
        yield opened


@pytest.fixture
def asked(both: Store, ask_of: Callable[..., Ask]) -> Callable[[str], dict[str, Any]]:
    """What GET /v1/assessments answers to a query."""
    ask = ask_of(create_app(store=both))

    def get(query: str) -> dict[str, Any]:
        response = ask("GET", f"/v1/assessments?order=oldest&total=true&{query}")
        assert response.status_code == 200, response.text
        body: dict[str, Any] = response.json()
        return body

    return get


def test_each_filter_and_the_total_on_both_databases(both: Store, asked: Callable[[str], dict[str, Any]]) -> None:
    kept = [
        one(("seat-gap", "major"), ("heel-short", "minor"), stage="hot_fit"),
        one(("heel-short", "major"), visit="v-2", fitted="2026-03-06"),
        one(visit="v-3", fitted=None, created="2026-03-07T23:59:59.999Z"),
        # The words stand in the answer, and not as a finding.
        one(
            visit="v-4", answer=b'{"findings":[],"remarks":["seat-gap","major"],"retry":{"left":[{"rule":"seat-gap"}]}}'
        ),
        # What is no JSON has no findings.
        one(visit="v-5", answer=b'"seat-gap" "major"') if both.file is not None else one(visit="v-5"),
    ]
    both.keep_many(kept)

    def numbers(query: str) -> list[int]:
        body = asked(query)
        found = [each["number"] for each in body["assessments"]]
        assert body["total"] == len(found)
        return found

    assert numbers("stage=hot_fit") == [1]
    assert numbers("grade=major") == [1, 2]
    assert numbers("grade=minor") == [1]
    assert numbers("grade=critical") == []
    assert numbers("rule=heel-short") == [1, 2]
    assert numbers("rule=heel-short&grade=major") == [2], "of one and the same finding"
    assert numbers("rule=seat-gap") == [1]
    assert numbers("rule=heel-%25") == []
    assert numbers("fitted_from=2026-03-05") == [2, 3]
    assert numbers("fitted_from=2026-03-05&fitted_to=2026-03-06") == [2]
    assert numbers("fitted_to=2026-03-04") == [1, 4, 5]
    assert numbers("") == [1, 2, 3, 4, 5]


def test_current_is_the_latest_of_each_foot_at_a_visit(both: Store, asked: Callable[[str], dict[str, Any]]) -> None:
    first, wrong = one(stage="hot_fit"), one()
    both.keep_many([first, one(foot="right_fore"), one(stage="nailed"), one(visit=None), one(visit=None), wrong])
    # A correction to another visit: what stood before the corrected one counts again.
    both.keep_many([one(visit="v-9", about=wrong.id)])
    assert [each["number"] for each in asked("current=true")["assessments"]] == [2, 3, 4, 5, 7]
    assert asked("current=true")["total"] == 5
    assert asked("current=false")["total"] == 7


def test_of_what_came_from_another_store_the_latest_there_counts(
    both: Store, asked: Callable[[str], dict[str, Any]]
) -> None:
    both.keep_many([one(), one()])
    both.keep_many([one(source="sha256:" + "1" * 64), one(source="sha256:" + "2" * 64)], origins=["a", "b"])
    assert [each["number"] for each in asked("current=true")["assessments"]] == [2, 3, 4]


def test_pages_keep_their_filters_and_the_total(own: Ask, store: Store) -> None:
    store.keep_many([one(("seat-gap", "major"), visit=f"v-{number}") for number in range(5)] + [one(visit="v-9")])
    address: str | None = "/v1/assessments?rule=seat-gap&current=true&total=true&limit=2"
    found = []
    while address:
        response = own("GET", address)
        assert response.json()["total"] == 5
        found += [each["number"] for each in response.json()["assessments"]]
        link = response.headers.get("link")
        address = link[1 : link.index(">")] if link else None
    assert found == [5, 4, 3, 2, 1]
    assert "total" not in own("GET", "/v1/assessments").json()


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("grade=grave", "query.grade"),
        ("stage=shod", "query.stage"),
        ("current=yes", "query.current"),
        ("total=1", "query.total"),
        ("fitted_from=2026-02-30", "query.fitted_from"),
        ("fitted_from=2026-03-04&fitted_to=2026-03-03", "query.fitted_to"),
        ("rule=", "query.rule"),
    ],
)
def test_a_filter_that_means_nothing_is_refused(own: Ask, problem: CheckProblem, query: str, field: str) -> None:
    for path in ("/v1/assessments", "/v1/findings.csv"):
        if "total" not in query or path == "/v1/assessments":
            [error] = problem(own("GET", f"{path}?{query}"), "bad-query")
            assert error["field"] == field


def rows_of(response: httpx.Response) -> list[dict[str, str]]:
    assert response.status_code == 200, response.text
    assert response.headers["content-type"].startswith("text/csv")
    return list(csv.DictReader(io.StringIO(response.text, newline="")))


def test_the_tables_have_each_finding_and_each_reading(own: Ask) -> None:
    answers = [own("POST", "/v1/assessments", json=example.fitting).json() for example in EXAMPLES]
    findings, readings = (rows_of(own("GET", f"/v1/{name}.csv")) for name in ("findings", "readings"))
    expected = [(each["id"], found["rule"], found["place"]) for each in answers for found in each["findings"]]
    assert [(row["assessment"], row["rule"], row["place"]) for row in findings] == expected
    measured = [(each["id"], found["quantity"], found["value"]) for each in answers for found in each["measurements"]]
    assert [(row["assessment"], row["quantity"], float(row["value"])) for row in readings] == measured
    assert {row["ucum"] for row in readings} >= {"mm", "s"}
    assert (
        any(row["value"].startswith("-") for row in (*readings, *findings))
        or min(float(row["value"]) for row in readings) >= 0
    )
    refused = rows_of(own("GET", "/v1/findings.csv?decision=stop_and_refer&grade=critical"))
    assert {row["decision"] for row in refused} == {"stop_and_refer"}


@pytest.mark.parametrize("name", ["=HYPERLINK(1)", "+1", "-1", "@SUM(1)", "\uff1d1", " =1"])
def test_no_text_of_a_table_is_a_formula(own: Ask, name: str) -> None:
    fitting = EXAMPLES[1].fitting | {"visit": name, "horse": {"id": name}}
    assert own("POST", "/v1/assessments", json=fitting).status_code == 201
    for table in ("findings", "readings"):
        row = rows_of(own("GET", f"/v1/{table}.csv"))[0]
        assert row["visit"] == row["horse"] == f"'{name}"


def test_too_many_are_told_and_what_cannot_be_read_is_named(
    own: Ask, store: Store, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    draft = one()
    store.keep_many([draft])
    assert draft.id in str(own("GET", "/v1/findings.csv").json()["detail"])
    problem(own("GET", "/v1/readings.csv"), "cannot-show")
    monkeypatch.setattr("api.routes.tables.MOST_ASSESSMENTS", 1)
    own("POST", "/v1/assessments", json=EXAMPLES[0].fitting)
    own("POST", "/v1/assessments", json=EXAMPLES[0].fitting)
    problem(own("GET", "/v1/findings.csv?visit=2026-03-04-H-101"), "bad-query")
