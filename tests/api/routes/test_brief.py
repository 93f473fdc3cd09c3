"""view=brief: decision, findings in a sentence, steps; and JSON answers compressed on their way."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import httpx
import pytest

from api.openapi.examples import EXAMPLES

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
_FEW_BYTES = 1500


def test_a_good_foot_takes_no_more_than_1500_bytes(own: Ask, good: dict[str, Any]) -> None:
    for language in ("en", "de"):
        for path in ("/v1/assessments", "/v1/assessments?keep=false"):
            address = f"{path}{'&' if '?' in path else '?'}view=brief&lang={language}"
            answer = own("POST", address, json=good)
            assert answer.json()["decision"] == "release"
            assert len(answer.content) <= _FEW_BYTES


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda each: each.name)
def test_it_is_the_kept_assessment_in_short(own: Ask, example: Any) -> None:
    sent = own("POST", "/v1/assessments?view=brief", json=example.fitting)
    assert sent.status_code == 201
    whole = own("GET", sent.headers["location"]).json()
    brief = own("GET", f"{sent.headers['location']}?view=brief")
    assert brief.content == sent.content
    assert brief.json()["decision"] == whole["decision"] == example.decision
    told = [(each["rule"], each["place"], each["grade"], each["say"]) for each in brief.json()["findings"]]
    assert told == [(each["rule"], each["place"], each["grade"], each["finding"]) for each in whole["findings"]]
    same = {"id": "", "created": ""}
    unkept = own("POST", "/v1/assessments?view=brief&keep=false", json=example.fitting)
    assert unkept.json() | same == brief.json() | same


def test_it_has_an_entity_tag_of_its_own(own: Ask) -> None:
    location = own("POST", "/v1/assessments", json=EXAMPLES[0].fitting).headers["location"]
    whole, brief = own("GET", location), own("GET", f"{location}?view=brief")
    assert whole.headers["etag"] != brief.headers["etag"]
    again = own("GET", f"{location}?view=brief", headers={"if-none-match": brief.headers["etag"]})
    assert again.status_code == 304


def test_a_request_that_is_sent_again_may_ask_for_the_other_view(own: Ask) -> None:
    headers = {"idempotency-key": "once"}
    first = own("POST", "/v1/assessments?view=brief", json=EXAMPLES[1].fitting, headers=headers)
    again = own("POST", "/v1/assessments?view=brief", json=EXAMPLES[1].fitting, headers=headers)
    whole = own("POST", "/v1/assessments", json=EXAMPLES[1].fitting, headers=headers)
    assert again.content == first.content
    assert again.headers["idempotency-replayed"] == whole.headers["idempotency-replayed"] == "true"
    assert whole.json() == own("GET", first.headers["location"]).json()


@pytest.mark.parametrize("query", ["view=short", "view=brief&explain=true"])
def test_another_view_and_an_explained_brief_one_are_refused(own: Ask, problem: CheckProblem, query: str) -> None:
    [error] = problem(own("POST", f"/v1/assessments?{query}", json=EXAMPLES[0].fitting), "bad-query")
    assert error["field"] == "query.view"


@pytest.mark.parametrize(
    ("accepted", "packed"), [("gzip", True), ("br, gzip;q=0.5", True), ("gzip;q=0", False), ("", False)]
)
def test_json_is_compressed_where_the_request_takes_gzip(own: Ask, accepted: str, packed: bool) -> None:  # noqa: FBT001
    location = own("POST", "/v1/assessments", json=EXAMPLES[1].fitting).headers["location"]
    plain = own("GET", location, headers={"accept-encoding": "identity"})
    answer = own("GET", location, headers={"accept-encoding": accepted})
    assert answer.content == plain.content
    assert ("content-encoding" in answer.headers) == packed
    assert "accept-encoding" in answer.headers["vary"].lower()
    assert answer.headers["etag"] == plain.headers["etag"]
    sent = int(answer.headers["content-length"])
    assert sent * 3 < len(plain.content) if packed else sent == len(plain.content)


def test_a_short_answer_and_the_lines_of_a_batch_go_out_as_they_are(own: Ask) -> None:
    gzipped = {"accept-encoding": "gzip"}
    assert "content-encoding" not in own("GET", "/healthz", headers=gzipped).headers
    lines = "\n".join(json.dumps(example.fitting) for example in EXAMPLES)
    headers = gzipped | {"content-type": "application/x-ndjson"}
    batch = own("POST", "/v1/assessments/batch", content=lines, headers=headers)
    assert len(batch.text.splitlines()) == len(EXAMPLES)
    assert "content-encoding" not in batch.headers


def test_what_is_compressed_already_is_not_compressed_again(own: Ask) -> None:
    answer = own("GET", "/v1/rulebook", headers={"accept-encoding": "gzip"})
    assert answer.headers["content-encoding"] == "gzip"
    assert answer.json()["rules"]


def test_head_tells_the_length_of_what_get_sends(own: Ask) -> None:
    location = own("POST", "/v1/assessments", json=EXAMPLES[1].fitting).headers["location"]
    got, asked = (own(method, location, headers={"accept-encoding": "gzip"}) for method in ("GET", "HEAD"))
    assert got.headers["content-length"] == asked.headers["content-length"]
