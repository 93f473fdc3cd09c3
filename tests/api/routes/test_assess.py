"""POST /v1/assessments: one fitting in, its assessment out."""

from __future__ import annotations

import importlib
import json
from collections.abc import Callable
from typing import Any
from uuid import UUID

import httpx
import pytest

from api.openapi.examples import EXAMPLES, Example
from fitcheck.assessment.assess import assess
from fitcheck.fitting.validation import parse_fitting

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
@pytest.mark.parametrize(("query", "status"), [("", 201), ("?keep=false", 200), ("?keep=true", 201)])
def test_the_answer_is_the_assessment_itself(ask: Ask, example: Example, query: str, status: int) -> None:
    response = ask("POST", f"/v1/assessments{query}", json=example.fitting)
    assert response.status_code == status
    assert response.headers["content-type"] == "application/json"
    answer = response.json()
    expected = assess(parse_fitting(example.fitting)).model_dump(mode="json")
    assert list(answer) == list(expected)
    UUID(answer.pop("id"))
    assert answer.pop("created").endswith("Z")
    del expected["id"], expected["created"]
    assert answer == expected
    assert answer["decision"] == example.decision


def test_the_answer_is_written_compactly(ask: Ask) -> None:
    text = ask("POST", "/v1/assessments", json=EXAMPLES[1].fitting).text
    assert text == json.dumps(json.loads(text), separators=(",", ":"), ensure_ascii=False)


def test_each_answer_has_its_own_ids_and_is_not_stored_on_the_way(ask: Ask) -> None:
    answers = [ask("POST", "/v1/assessments", json=EXAMPLES[0].fitting) for _ in range(3)]
    assert len({answer.json()["id"] for answer in answers}) == 3
    assert len({answer.headers["x-request-id"] for answer in answers}) == 3
    assert {answer.headers["cache-control"] for answer in answers} == {"no-store"}
    assert {answer.headers["x-content-type-options"] for answer in answers} == {"nosniff"}


def test_names_and_notes_in_any_script_are_taken(ask: Ask, good: dict[str, Any]) -> None:
    good["horse"]["id"] = good["visit"] = "Łąka 7 馬"
    good["notes"] = "😀 „Hufeisen“"
    assert ask("POST", "/v1/assessments", json=good).json()["decision"] == "release"
    escaped = json.dumps(good, ensure_ascii=True)
    response = ask("POST", "/v1/assessments", content=escaped, headers={"content-type": "application/json"})
    assert response.json()["decision"] == "release"


@pytest.mark.parametrize(
    "content_type",
    [
        "application/json",
        "application/json; charset=utf-8",
        'Application/JSON;charset="UTF-8"',
        "application/json ; profile=x",
    ],
)
def test_json_in_utf_8_is_read_however_its_type_is_written(ask: Ask, content_type: str) -> None:
    body = json.dumps(EXAMPLES[0].fitting)
    response = ask("POST", "/v1/assessments", content=body, headers={"content-type": content_type})
    assert response.json()["decision"] == "go_on"


@pytest.mark.parametrize(
    ("query", "field", "value"),
    [
        ("keep=no", "query.keep", "no"),
        ("keep=", "query.keep", ""),
        ("keep", "query.keep", ""),
        ("keep=True", "query.keep", "True"),
        ("keep=false&keep=false", "query.keep", "false"),
        ("kep=false", "query.kep", "false"),
        ("explain=yes", "query.explain", "yes"),
        ("explain=true&explain=true", "query.explain", "true"),
        ("keep=false&verbose=1", "query.verbose", "1"),
        ("KEEP=false", "query.KEEP", "false"),
        ("keep=%00", "query.keep", "\x00"),
        ("%FF=1", "query.\ufffd", "1"),
    ],
)
def test_a_query_that_is_not_wholly_understood_is_refused(
    ask: Ask, problem: CheckProblem, query: str, field: str, value: str
) -> None:
    response = ask("POST", f"/v1/assessments?{query}", json=EXAMPLES[0].fitting)
    [error] = problem(response, "bad-query")
    assert (error["field"], error["value"]) == (field, value)


def test_what_is_not_to_be_kept_cannot_be_fetched(ask: Ask, problem: CheckProblem) -> None:
    made = ask("POST", "/v1/assessments?keep=false", json=EXAMPLES[0].fitting)
    assert not {"location", "etag"} & set(made.headers)
    problem(ask("GET", f"/v1/assessments/{made.json()['id']}"), "not-found")


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_the_answer_is_explained_for_those_who_ask_and_else_the_same(
    ask: Ask, example: Example, explained_faults: Callable[[Any], list[str]]
) -> None:
    plain = ask("POST", "/v1/assessments?explain=false", json=example.fitting).json()
    answer = ask("POST", "/v1/assessments?keep=false&explain=true", json=example.fitting).json()
    assert explained_faults(answer) == []
    explanation = answer.pop("explanation")
    assert list(answer) == list(plain)
    same = {"id": "", "created": ""}
    assert answer | same == plain | same
    assert explanation["decision"]["decision"] == example.decision
    fired = {
        limit["finding"]
        for criterion in explanation["criteria"]
        for reading in criterion["readings"]
        for limit in reading["limits"]
        if limit["outcome"] == "fired"
    }
    fired |= {name for each in explanation["criteria"] for joined in each["joined"] for name in joined["findings"]}
    assert fired == {finding["id"] for finding in plain["findings"]}


@pytest.fixture(scope="module")
def explained_faults(ask: Ask) -> Callable[[Any], list[str]]:
    """What an answer offends against in the schema that is declared for an explained assessment."""
    document = ask("GET", "/openapi.json").json()
    schema = {"$ref": "#/components/schemas/ExplainedAssessment", "components": document["components"]}
    validator = importlib.import_module("jsonschema").Draft202012Validator(schema)
    return lambda value: [error.message[:200] for error in validator.iter_errors(value)]
