"""GET /v1/agreement: the comparison over HTTP, as strict in its query as every other address."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import quote

import httpx
import jsonschema
import pytest

from fitcheck.agreement.judgement import JudgedGrade
from fitcheck.records import Store
from fitcheck.stored.judgements import judgements_by_both
from fitcheck.stored.rater_report import rater_report
from rules import shipped_rulebook
from tests.support.raters import gone_over, judged

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]


@pytest.fixture
def raters(store: Store) -> Store:
    """S-1 and S-2 read three feet each and differ on one; S-2 went over one of S-1's besides."""
    columns: dict[str, list[JudgedGrade]] = {"S-1": ["good", "minor", "good"], "S-2": ["good", "major", "good"]}
    for rater, grades in columns.items():
        store.keep_many(
            [judged(grade, f"{rater}-{n}", assessor=rater, visit=f"v-{n}") for n, grade in enumerate(grades)]
        )
    store.keep_many([judged("minor", "x", assessor="S-1", visit="<script>", horse="H/1?&")])
    gone_over(store, "x", {"what": "strike", "finding": "nail-low@nail:medial:1"}, by="S-2")
    return store


@pytest.mark.parametrize(("first", "second"), [("S-1", "S-2"), ("tool", "S-2"), ("S-2", "tool"), ("S-1", "S-9")])
def test_the_answer_is_the_comparison_of_the_kept_records(own: Ask, raters: Store, first: str, second: str) -> None:
    response = own("GET", f"/v1/agreement?first={first}&second={second}")
    assert response.status_code == 200
    expected = rater_report(raters, first, second, shipped_rulebook())
    assert response.json() == expected.model_dump(mode="json")
    document = own("GET", "/openapi.json").json()
    declared = document["paths"]["/v1/agreement"]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
    jsonschema.Draft202012Validator(declared | {"components": document["components"]}).validate(response.json())
    tag = {"if-none-match": response.headers["etag"]}
    assert own("GET", f"/v1/agreement?first={first}&second={second}", headers=tag).status_code == 304


def test_each_difference_leads_to_the_assessments_behind_it(own: Ask, raters: Store) -> None:
    found = own("GET", "/v1/agreement?first=S-1&second=S-2").json()
    assert found["differing"] == len(found["differences"]) == 2
    behind = [each[side]["assessment"] for each in found["differences"] for side in ("first", "second")]
    assert all(raters.record(id_) is not None for id_ in behind)


@pytest.mark.usefixtures("raters")
def test_days_are_bounds_and_include_both_ends(own: Ask) -> None:
    path = "/v1/agreement?first=S-1&second=S-2"
    whole = own("GET", path).json()["feet"]
    assert own("GET", f"{path}&from=2026-03-04").json()["feet"] == whole
    assert own("GET", f"{path}&to=2026-03-04").json()["feet"] == 3
    assert own("GET", f"{path}&to=2026-03-03").json()["feet"] == 0


@pytest.mark.parametrize(
    "query",
    [
        "",
        "first=S-1",
        "second=S-1",
        "first=S-1&second=S-1",
        "first=tool&second=tool",
        "first=&second=S-1",
        f"first={quote('x' * 65)}&second=S-1",
        "first=S-1&first=S-3&second=S-2",
        "first=S-1&second=S-2&from=yesterday",
        "first=S-1&second=S-2&from=2026-03-05&to=2026-03-04",
        "first=S-1&second=S-2&third=S-3",
        "first=%00&second=S-2",
    ],
)
def test_any_other_query_is_refused(own: Ask, problem: CheckProblem, query: str) -> None:
    [error] = problem(own("GET", f"/v1/agreement?{query}"), "bad-query")
    assert error["field"].startswith("query.")


def test_too_many_records_are_told(
    own: Ask, raters: Store, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert raters.head().number > 3
    monkeypatch.setattr(
        "fitcheck.stored.rater_report.judgements_by_both",
        lambda *given, **days: judgements_by_both(*given, **days, most=2),
    )
    problem(own("GET", "/v1/agreement?first=S-1&second=S-2"), "bad-query")
