"""GET /v1/assessments/{id}/explanation, and GET /v1/fields."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from api.responses.fields import fields_page
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.input_value import in_unit
from fitcheck.records import Draft, Store
from fitcheck.vocabulary import UCUM
from rules import shipped_rulebook

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda each: each.name)
def test_it_is_what_explain_adds_to_the_answer(own: Ask, example: Any, language: str) -> None:
    made = own("POST", f"/v1/assessments?explain=true&lang={language}", json=example.fitting)
    shown = own("GET", f"{made.headers['location']}/explanation")
    assert shown.status_code == 200
    assert shown.json() == made.json()["explanation"]
    again = own("GET", f"{made.headers['location']}/explanation", headers={"if-none-match": shown.headers["etag"]})
    assert again.status_code == 304


def test_what_no_longer_comes_to_the_same_is_not_explained(own: Ask, store: Store, problem: CheckProblem) -> None:
    made = own("POST", "/v1/assessments", json=EXAMPLES[1].fitting).json()
    record = store.record(made["id"])
    assert record is not None
    names = (
        "kind",
        "received",
        "answer",
        "created",
        "foot",
        "stage",
        "decision",
        "rulebook_version",
        "rulebook_digest",
    )
    kept = {name: getattr(record, name) for name in names}
    other_book = made["rulebook"] | {"digest": "sha256:" + "0" * 64}
    changes: tuple[dict[str, Any], ...] = ({"decision": "go_on", "findings": []}, {"rulebook": other_book})
    for number, change in enumerate(changes):
        document = made | {"id": f"00000000-0000-4000-8000-00000000000{number}"} | change
        answer = Assessment.model_validate_json(json.dumps(document)).model_dump_json().encode()
        fields = kept | {"id": document["id"], "answer": answer, "rulebook_digest": document["rulebook"]["digest"]}
        store.keep_many([Draft(**fields)])
        problem(own("GET", f"/v1/assessments/{document['id']}/explanation"), "cannot-explain")
    problem(own("GET", "/v1/assessments/x/explanation"), "not-found")


def test_each_field_has_its_unit_code_range_and_words(own: Ask) -> None:
    fields = {(each["field"], *each["places"]): each for each in own("GET", "/v1/fields").json()["fields"]}
    width = fields["observations.heel_fit.{side}.width", "medial_heel", "lateral_heel"]
    assert (width["quantity"], width["low"], width["high"]) == ("width", -60, 60)
    assert width["unit"] == {"unit": "mm", "ucum": "mm"}
    assert [each["ucum"] for each in width["units"]] == ["mm", "cm", "[in_i]"]
    assert width["words"] == ["tight", "close", "full", "wide"]
    assert fields["observations.nails.{nail}.blood", "nail"]["words"] == ["yes", "no"]
    german = own("GET", "/v1/fields?lang=de")
    assert german.headers["content-language"] == "de"
    assert german.json()["fields"][0]["title"] != own("GET", "/v1/fields").json()["fields"][0]["title"]


def test_each_range_and_word_is_taken_and_what_lies_beyond_is_not(own: Ask, good: dict[str, Any]) -> None:
    tried = 0
    for each in own("GET", "/v1/fields").json()["fields"]:
        path = each["field"].replace("{side}", "medial").split(".")
        if "{" in each["field"] or each["low"] is None or path[0] not in {"hoof", "shoe"} or path[2:]:
            continue
        step = each["high"] - each["low"]
        for value, taken in ((each["low"], True), (each["high"], True), (each["high"] + step, False)):
            fitting = good | {path[0]: good[path[0]] | {path[1]: value}}
            answer = own("POST", "/v1/assessments?keep=false", json=fitting)
            faults = [] if answer.status_code == 200 else [fault["field"] for fault in answer.json()["errors"]]
            # What is in range may still contradict something else, and then the fault says so; what is not is refused.
            ranges = [fault for fault in faults if fault == each["field"]]
            assert taken or ranges, (each["field"], value, faults)
            tried += 1
    assert tried > 20


def test_every_unit_that_a_reading_may_have_has_its_code() -> None:
    assert {"mm", "cm", "in", "deg", "s", "degC", "degF", "kg"} <= set(UCUM)
    assert in_unit(1.0, "in") == 25.4


def test_the_page_of_fields_is_that_of_the_shipped_rulebook(root: Any) -> None:
    assert (root / "docs" / "fields.md").read_text(encoding="utf-8") == fields_page(shipped_rulebook()), (
        "run .ci/refresh"
    )
