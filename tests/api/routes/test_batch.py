"""POST /v1/assessments/batch: one answer line for each line, whatever stands beside it and however it arrives."""

from __future__ import annotations

import json
import random
from collections.abc import AsyncIterator, Callable
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from api.http.limits import Limits
from api.openapi.examples import EXAMPLES
from fitcheck.records import Store

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
NDJSON = {"content-type": "application/x-ndjson"}
GOOD = {example.name: json.dumps(example.fitting, ensure_ascii=False) for example in EXAMPLES}
MIXED: list[tuple[str | bytes, str]] = [
    (GOOD["all_is_well"], "go_on"),
    ("{", "/problems/bad-json"),
    (GOOD["flinch"], "stop_and_refer"),
    ("", ""),
    (b'{"foot": "\xff"}', "/problems/bad-json"),
    ("null", "/problems/bad-input"),
    (GOOD["inches_and_words"], "put_right"),
    ("   ", ""),
    ('{"a": 1, "a": 1}', "/problems/bad-json"),
    ("[" * 10_000, "/problems/bad-json"),
    (GOOD["little_seen"].replace("0", "NaN"), "/problems/bad-json"),
    (GOOD["little_seen"].replace("toe_fit", "toe"), "/problems/bad-input"),
    (GOOD["little_seen"], "incomplete"),
]


def raw_lines() -> list[bytes]:
    return [line if isinstance(line, bytes) else line.encode() for line, _ in MIXED]


def check(response: httpx.Response) -> None:
    """The answers to MIXED, line by line."""
    assert response.status_code == 200
    assert response.headers["content-type"] == "application/x-ndjson"
    assert response.text.endswith("\n")
    answers = [json.loads(line) for line in response.text.splitlines()]
    expected = [(number, word) for number, (_, word) in enumerate(MIXED, 1) if word]
    told = [
        (
            answer["line"],
            answer["assessment"]["decision"] if "assessment" in answer else answer["problem"]["type"],
        )
        for answer in answers
    ]
    assert told == expected
    request = f"urn:uuid:{response.headers['x-request-id']}"
    for answer in answers:
        assert len(answer) == 2
        if "problem" in answer:
            assert answer["problem"]["instance"] == f"{request}#line-{answer['line']}"


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
@pytest.mark.parametrize("last", [b"", b"\n", b"\r\n\r\n"])
def test_a_bad_line_spoils_only_itself(ask: Ask, end: bytes, last: bytes) -> None:
    check(ask("POST", "/v1/assessments/batch", content=end.join(raw_lines()) + last, headers=NDJSON))


@pytest.mark.parametrize("seed", range(5))
def test_lines_may_arrive_cut_anywhere(ask: Ask, seed: int) -> None:
    async def pieces() -> AsyncIterator[bytes]:
        cut = random.Random(seed)
        raw = b"\n".join(raw_lines())
        while raw:
            size = cut.choice([0, 1, 2, 7, 100, 3000])
            yield raw[:size]
            raw = raw[size:]

    check(ask("POST", "/v1/assessments/batch", content=pieces(), headers=NDJSON))


def test_an_answer_in_a_batch_is_that_of_the_fitting_alone(ask: Ask) -> None:
    body = "\n".join(GOOD.values())
    answers = ask("POST", "/v1/assessments/batch", content=body, headers=NDJSON).text.splitlines()
    for example, line in zip(EXAMPLES, answers, strict=True):
        alone = ask("POST", "/v1/assessments", json=example.fitting).json()
        together = json.loads(line)["assessment"]
        assert together | {"id": "", "created": ""} == alone | {"id": "", "created": ""}


def test_a_problem_in_a_batch_is_that_of_the_fitting_alone(ask: Ask) -> None:
    bad = GOOD["all_is_well"].replace("draught", "draft")
    answer = ask("POST", "/v1/assessments/batch", content=bad, headers=NDJSON).json()
    alone = ask("POST", "/v1/assessments", content=bad, headers={"content-type": "application/json"}).json()
    assert answer["problem"] | {"instance": ""} == alone | {"instance": ""}


@pytest.mark.parametrize("body", [b"", b"\n\n", b"  \r\n"])
def test_a_batch_of_nothing_has_no_answer_lines(ask: Ask, body: bytes) -> None:
    response = ask("POST", "/v1/assessments/batch", content=body, headers=NDJSON)
    assert (response.status_code, response.content) == (200, b"")


def test_a_line_that_is_too_long_is_answered_and_passed_over(ask_of: Callable[[FastAPI], Ask]) -> None:
    small = ask_of(create_app(limits=Limits(line=2000)))
    lines = [GOOD["all_is_well"], GOOD["all_is_well"].ljust(2000), GOOD["all_is_well"].ljust(2001), "x" * 100_000, "{"]
    response = small("POST", "/v1/assessments/batch", content="\r\n".join(lines), headers=NDJSON)
    answers = [json.loads(line) for line in response.text.splitlines()]
    assert [answer["line"] for answer in answers] == [1, 2, 3, 4, 5]
    assert [answer["assessment"]["decision"] for answer in answers[:2]] == ["go_on", "go_on"]
    assert [answer["problem"]["status"] for answer in answers[2:]] == [413, 413, 400]
    assert "2000 bytes" in answers[2]["problem"]["detail"]


def test_a_batch_may_be_larger_than_a_single_body(ask_of: Callable[[FastAPI], Ask]) -> None:
    small = ask_of(create_app(limits=Limits(body=2000)))
    response = small("POST", "/v1/assessments/batch", content=f"{GOOD['all_is_well']}\n" * 5, headers=NDJSON)
    assert response.text.count('"decision":"go_on"') == 5


@pytest.mark.parametrize("content_type", ["application/x-ndjson; charset=utf-8", "application/ndjson"])
def test_ndjson_goes_by_two_names(ask: Ask, content_type: str) -> None:
    headers = {"content-type": content_type}
    assert ask("POST", "/v1/assessments/batch", content="{", headers=headers).json()["line"] == 1


@pytest.mark.parametrize("content_type", ["application/json", "text/plain", "application/x-ndjson; charset=utf-16"])
def test_another_content_type_is_refused_as_a_whole(ask: Ask, problem: CheckProblem, content_type: str) -> None:
    response = ask("POST", "/v1/assessments/batch", content="{}", headers={"content-type": content_type})
    [error] = problem(response, "unsupported-media-type")
    assert "application/x-ndjson" in error["allowed"]


@pytest.mark.parametrize("query", ["keep=no", "keep=true&keep=true", "corrects=x", "explain=true"])
def test_a_batch_takes_no_other_query_than_whether_to_keep(ask: Ask, problem: CheckProblem, query: str) -> None:
    problem(ask("POST", f"/v1/assessments/batch?{query}", content="{}", headers=NDJSON), "bad-query")


def test_a_batch_keeps_nothing_unless_that_is_asked_for(own: Ask, store: Store) -> None:
    for query in ("", "?keep=false"):
        response = own("POST", f"/v1/assessments/batch{query}", content=GOOD["flinch"], headers=NDJSON)
        assert set(response.json()) == {"line", "assessment"}
    assert store.head().number == 0


def test_each_good_line_is_kept_in_order_and_is_found_where_its_answer_says(own: Ask, store: Store) -> None:
    lines = b"\r\n".join(raw_lines() * 12)
    response = own("POST", "/v1/assessments/batch?keep=true", content=lines, headers=NDJSON)
    plain = own("POST", "/v1/assessments/batch", content=lines, headers=NDJSON)
    answers = [json.loads(line) for line in response.text.splitlines()]
    kept = [answer for answer in answers if "assessment" in answer]
    assert len(kept) == store.head().number == 48
    for number, (answer, without) in enumerate(zip(answers, plain.text.splitlines(), strict=True)):
        same, other = json.loads(without), dict(answer)
        if "assessment" not in answer:
            assert (set(answer), answer["problem"]["type"]) == ({"line", "problem"}, same["problem"]["type"]), number
            continue
        location = other.pop("location")
        assert location == f"/v1/assessments/{answer['assessment']['id']}"
        new = {"id": "", "created": ""}
        assert other | {"assessment": answer["assessment"] | new} == same | {"assessment": same["assessment"] | new}
        found = own("GET", location)
        # What is kept is the very text that stands in the line.
        assert f'"assessment":{found.text}}}' in response.text
    records = store.following(0, 100)
    assert [record.id for record in records] == [answer["assessment"]["id"] for answer in kept]
    expected = [line.strip() for line in raw_lines() if line.decode(errors="ignore") in GOOD.values()] * 12
    assert [record.received for record in records] == expected


def test_a_batch_that_is_kept_takes_no_idempotency_key(own: Ask, store: Store, problem: CheckProblem) -> None:
    headers = NDJSON | {"idempotency-key": "k"}
    problem(
        own("POST", "/v1/assessments/batch?keep=true", content=GOOD["flinch"], headers=headers), "bad-idempotency-key"
    )
    assert own("POST", "/v1/assessments/batch", content=GOOD["flinch"], headers=headers).status_code == 200
    assert store.head().number == 0


def test_no_answer_has_what_a_client_may_take_for_the_end_of_a_line(ask: Ask) -> None:
    """What Python's own splitlines takes for one: the documentation of str.splitlines."""
    odd = "".join(map(chr, (0x0B, 0x0C, 0x1C, 0x1D, 0x1E, 0x85, 0x2028, 0x2029)))
    body = json.dumps(EXAMPLES[0].fitting | {"foot": odd, odd: 1})
    response = ask("POST", "/v1/assessments/batch", content=body, headers=NDJSON)
    [line] = response.text.splitlines()
    assert odd in {error["value"] for error in json.loads(line)["problem"]["errors"]}


@pytest.mark.parametrize("keep", ["false", "true"])
def test_a_batch_with_very_many_faulty_lines_ends_with_a_line_that_says_so(own: Ask, store: Store, keep: str) -> None:
    good = GOOD["all_is_well"]
    lines = [good, *["1"] * 999, good, "1", good, *["1"] * 5000]
    answered = own("POST", f"/v1/assessments/batch?keep={keep}", content="\n".join(lines), headers=NDJSON)
    told = [json.loads(line) for line in answered.text.splitlines()]
    assert [line["line"] for line in told] == list(range(1, 1004))
    assert [line["line"] for line in told if "assessment" in line] == [1, 1001]
    assert {line["problem"]["type"] for line in told[1:1000]} == {"/problems/bad-input"}
    assert told[-1]["problem"]["type"] == "/problems/too-many-faults"
    assert "not looked at" in told[-1]["problem"]["detail"]
    assert store.head().number == (2 if keep == "true" else 0)


def test_a_batch_with_just_as_many_faulty_lines_is_answered_whole(own: Ask) -> None:
    answered = own("POST", "/v1/assessments/batch", content="1\n" * 1000, headers=NDJSON)
    assert {json.loads(line)["problem"]["type"] for line in answered.text.splitlines()} == {"/problems/bad-input"}
