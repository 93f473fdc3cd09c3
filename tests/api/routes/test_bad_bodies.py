"""Bodies that cannot be assessed, each with the problem that names the fault."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator, Callable
from math import cos, radians, sin
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from api.http.limits import Limits
from api.openapi.examples import EXAMPLES

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
GOOD = EXAMPLES[0].fitting
TEXT = json.dumps(GOOD)
JSON = {"content-type": "application/json"}


def nested(**observations: Any) -> str:
    return json.dumps(GOOD | {"observations": GOOD["observations"] | observations})


TRACED = nested(
    outline={
        "hoof": [[70 * cos(radians(angle)), 70 * sin(radians(angle))] for angle in range(-60, 241, 10)],
        "shoe": [[71 * cos(radians(angle)), 71 * sin(radians(angle))] for angle in range(-60, 241, 10)],
        "nail_holes": [[90, 0]],
        "lateral": "+x",
    }
)
"""With a nail hole beyond the hoof."""


@pytest.mark.parametrize(
    ("body", "field", "words"),
    [
        (b"", "(document)", "empty"),
        (b"  \n", "(document)", "empty"),
        (TEXT[:-1], "(document)", "line 1, column"),
        (TEXT[:200], "(document)", "line 1, column"),
        (TEXT + "}", "(document)", "Nothing may follow"),
        ("{'foot': 'left_fore'}", "(document)", "double quotation marks"),
        (TEXT.encode("utf-16"), "(document)", "not UTF-8"),
        (b"\xef\xbb\xbf" + TEXT.encode(), "(document)", "byte order mark"),
        (TEXT.encode().replace(b"H-101", b"H-\xff\xfe"), "(document)", "not UTF-8"),
        (TEXT.replace('"foot"', '"foot": "left_hind", "foot"'), "(document)", '"foot" stands twice'),
        (TEXT.replace("2.4", "NaN", 1), "observations.heel_fit.medial.width", "NaN"),
        (TEXT.replace("2.4", "-Infinity", 1), "observations.heel_fit.medial.width", "-Infinity"),
        (TEXT.replace("2.4", "1e400", 1), "observations.heel_fit.medial.width", "1e400"),
        (TEXT.replace("2.4", "9" * 5000, 1), "observations.heel_fit.medial.width", "5000 characters"),
        (TEXT.replace("H-101", "\\ud800"), "horse.id", "half of a pair"),
        ("[" * 100_000, "(document)", "more than 32 times"),
        ('{"a":' * 100_000, "(document)", "more than 32 times"),
    ],
)
def test_what_is_not_strict_json_is_a_bad_request(
    ask: Ask, problem: CheckProblem, body: str | bytes, field: str, words: str
) -> None:
    [error] = problem(ask("POST", "/v1/assessments", content=body, headers=JSON), "bad-json")
    assert error["field"] == field
    assert words in error["detail"]


@pytest.mark.parametrize(
    ("body", "field", "value"),
    [
        ("[]", "(document)", "an empty list"),
        ("null", "(document)", None),
        ('"left_fore"', "(document)", "left_fore"),
        (f"[{TEXT}]", "(document)", "a list of 1"),
        (json.dumps(GOOD | {"colour": "bay"}), "colour", "bay"),
        (json.dumps(GOOD | {"foot": "left"}), "foot", "left"),
        (json.dumps({key: value for key, value in GOOD.items() if key != "work"}), "work", None),
        (nested(toe_fit={"overhang": 1e30}), "observations.toe_fit.overhang", 1e30),
        (nested(toe_fit={"overhang": 10**99}), "observations.toe_fit.overhang", "a whole number that is far too large"),
        (nested(toe_fit={"overhang": "1/8"}), "observations.toe_fit.overhang", "1/8"),
        (nested(nails=[{"branch": "medial", "hole": 9}]), "observations.nails.0.hole", 9),
        (nested(levelness={"gaps": {"heel": 0.1}}), "observations.levelness.gaps.heel", 0.1),
        (nested(scorch={"arcs": [[-150, 0], [150, 20]]}), "observations.scorch.arcs.1", "[150, 20]"),
        (
            nested(levelness={"heights": [[0, 60, 0.5], [60, 0, 0], [0, 60, 0]]}),
            "observations.levelness.heights",
            "[0, 60, 0]",
        ),
        (TRACED, "observations.outline.nail_holes.0", "[90, 0]"),
        (nested(history={"fitted": "2026-02-30"}), "observations.history.fitted", "2026-02-30"),
        (json.dumps(GOOD | {"notes": "x" * 900_000}), "notes", "x" * 100 + "…"),
    ],
)
def test_json_that_is_no_fitting_is_unprocessable_and_names_field_and_value(
    ask: Ask, problem: CheckProblem, body: str, field: str, value: Any
) -> None:
    [error] = problem(ask("POST", "/v1/assessments", content=body, headers=JSON), "bad-input")
    assert (error["field"], error["value"]) == (field, value)
    assert error["allowed"]
    assert error["detail"]


def test_many_faults_are_listed_together_and_a_flood_of_them_is_cut(ask: Ask, problem: CheckProblem) -> None:
    errors = problem(ask("POST", "/v1/assessments", json={"fot": 1, "stage": "nailing"}), "bad-input")
    assert {error["field"] for error in errors} == {"foot", "stage", "work", "observations", "fot"}
    response = ask("POST", "/v1/assessments", json=GOOD | {f"key{number}": 0 for number in range(5000)})
    errors = problem(response, "bad-input")
    assert len(errors) == 21
    assert "4980 more" in errors[-1]["detail"]
    assert len(response.content) < 10_000


@pytest.mark.parametrize(
    ("headers", "field", "value"),
    [
        ({}, "header.content-type", None),
        ({"content-type": "text/plain"}, "header.content-type", "text/plain"),
        (
            {"content-type": "application/x-www-form-urlencoded"},
            "header.content-type",
            "application/x-www-form-urlencoded",
        ),
        ({"content-type": "application/jsonp"}, "header.content-type", "application/jsonp"),
        ({"content-type": "application/x-ndjson"}, "header.content-type", "application/x-ndjson"),
        (
            {"content-type": "application/json; charset=latin-1"},
            "header.content-type",
            "application/json; charset=latin-1",
        ),
        ({"content-type": "application/json", "content-encoding": "gzip"}, "header.content-encoding", "gzip"),
    ],
)
def test_another_content_type_charset_or_coding_is_refused(
    ask: Ask, problem: CheckProblem, headers: dict[str, str], field: str, value: str | None
) -> None:
    response = ask("POST", "/v1/assessments", content=TEXT.encode(), headers=headers)
    [error] = problem(response, "unsupported-media-type")
    assert (error["field"], error["value"]) == (field, value)
    assert "application/json" in error["allowed"]


def test_two_content_types_are_refused(ask: Ask, problem: CheckProblem) -> None:
    headers = [("content-type", "application/json"), ("content-type", "application/json")]
    problem(ask("POST", "/v1/assessments", content=TEXT, headers=headers), "unsupported-media-type")


@pytest.fixture(scope="module")
def small(ask_of: Callable[[FastAPI], Ask]) -> Ask:
    """An application that takes bodies of up to 2,000 bytes."""
    return ask_of(create_app(limits=Limits(body=2000)))


@pytest.mark.parametrize("length", ["announced", "unknown"])
def test_a_body_is_read_to_its_limit_and_not_beyond(small: Ask, problem: CheckProblem, length: str) -> None:
    async def pieces(size: int) -> AsyncIterator[bytes]:
        padded = TEXT.ljust(size).encode()
        for start in range(0, size, 300):
            yield padded[start : start + 300]

    def post(size: int) -> httpx.Response:
        body = TEXT.ljust(size).encode() if length == "announced" else pieces(size)
        return small("POST", "/v1/assessments", content=body, headers=JSON)

    assert post(2000).json()["decision"] == "go_on"
    for size in (2001, 100_000):
        response = post(size)
        problem(response, "body-too-large")
        assert "2000 bytes" in response.json()["detail"]
        assert response.headers["connection"] == "close"


def test_a_length_that_is_not_to_be_believed_does_not_stop_the_service(small: Ask, problem: CheckProblem) -> None:
    for length in ("9" * 400, "1000000000000"):
        response = small("POST", "/v1/assessments", content=TEXT, headers=JSON | {"content-length": length})
        problem(response, "body-too-large")
