"""The language of an answer: asked for by lang, wished for by Accept-Language, kept as it was answered."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from api.openapi.examples import EXAMPLES
from fitcheck.records import Store, open_store
from rules import RulebookError, localized, shipped_rulebook
from tests.support.language_texts import english_pieces, strings

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
FITTING = json.dumps({example.name: example.fitting for example in EXAMPLES}["flinch"]).encode()
JSON = {"content-type": "application/json"}
BARE = "/v1/assessments?keep=false"
DE = localized(shipped_rulebook(), "de")


@pytest.fixture(scope="module")
def keeping(ask_of: Callable[[FastAPI], Ask], tmp_path_factory: pytest.TempPathFactory) -> Ask:
    """Asks a service with a store of its own."""
    store: Store = open_store(f"sqlite:///{tmp_path_factory.mktemp('languages') / 'records.sqlite3'}")
    return ask_of(create_app(store=store))


def post(ask: Ask, path: str = BARE, **headers: str) -> httpx.Response:
    return ask("POST", path, content=FITTING, headers=JSON | {name.replace("_", "-"): v for name, v in headers.items()})


def test_without_a_wish_the_answer_is_english_and_says_so_in_the_header_alone(ask: Ask) -> None:
    answer = post(ask)
    assert answer.headers["content-language"] == "en"
    assert answer.headers["vary"] == "accept-language, accept-encoding"
    assert "language" not in answer.json()
    assert answer.json()["findings"][0]["finding"].startswith("The horse flinched at ")


def test_lang_asks_for_german_with_the_same_decision_and_numbers(ask: Ask) -> None:
    english, german = post(ask).json(), post(ask, f"{BARE}&lang=de").json()
    assert german["language"] == "de"
    assert german["findings"][0]["finding"].startswith("Das Pferd zuckte bei Nagel ")
    for key in ("decision", "conforms", "not_assessed"):
        assert german[key] == english[key]
    assert german["rulebook"]["digest"] == english["rulebook"]["digest"]
    numbers = [
        [(one["quantity"], one["place"], one["value"], one["u"]) for one in each["measurements"]]
        for each in (english, german)
    ]
    assert numbers[0] == numbers[1]
    told = "\n".join(strings(german))
    assert {piece for piece in english_pieces() if piece in told} == set()


@pytest.mark.parametrize(
    ("wish", "language"),
    [
        ("de", "de"),
        ("de-AT", "de"),
        ("DE-de", "de"),
        ("fr, de;q=0.5, en;q=0.4", "de"),
        ("en, de", "en"),
        ("en;q=0.5, de;q=0.9", "de"),
        ("de;q=0, en", "en"),
        ("de;q=0", "en"),
        ("fr", "en"),
        ("*", "en"),
        ("fr, *;q=0.5", "en"),
        ("de ; q=0.8", "de"),
        ("", "en"),
        (";;,q=1,\u00e4".encode("latin-1").decode("latin-1"), "en"),
        ("de;q=2", "en"),
        ("de" + "," * 2000, "en"),
    ],
)
def test_accept_language_is_heard(wish: str, language: str, ask: Ask) -> None:
    """By RFC 9110, 12.5.4, and the lookup of RFC 4647, 3.4."""
    answer = ask(
        "POST",
        BARE,
        content=FITTING,
        headers=[(b"content-type", b"application/json"), (b"accept-language", wish.encode("latin-1"))],
    )
    assert (answer.status_code, answer.headers["content-language"]) == (200, language)


def test_lang_goes_before_accept_language(ask: Ask) -> None:
    assert post(ask, f"{BARE}&lang=en", accept_language="de").headers["content-language"] == "en"
    assert post(ask, f"{BARE}&lang=de", accept_language="en").headers["content-language"] == "de"


@pytest.mark.parametrize("path", [f"{BARE}&lang=nl", "/v1/assessments/batch?lang=DE", "/v1/rulebook?lang="])
def test_a_language_that_there_is_not_is_a_problem(path: str, ask: Ask, problem: CheckProblem) -> None:
    method = "GET" if "rulebook" in path else "POST"
    kind = {"content-type": "application/x-ndjson"} if "batch" in path else JSON
    answer = ask(method, path, **({} if method == "GET" else {"content": FITTING, "headers": kind}))
    [error] = problem(answer, "bad-query")
    assert (error["field"], error["allowed"]) == ("query.lang", "one of en, de")


def test_a_problem_is_told_in_english_whatever_was_wished(ask: Ask) -> None:
    told = [
        ask("POST", f"{BARE}&lang={language}", content=b'{"foot": "third"}', headers=JSON).json()["errors"]
        for language in ("en", "de")
    ]
    assert told[0] == told[1]


def test_the_explanation_is_in_the_language_of_the_answer(ask: Ask) -> None:
    answer = post(ask, f"{BARE}&lang=de&explain=true").json()
    assert answer["explanation"]["decision"]["say"].startswith(
        "Einhalten und untersuchen lassen: ein kritischer Befund"
    )
    told = "\n".join(strings(answer))
    assert {piece for piece in english_pieces() if piece in told} == set()


def test_a_batch_is_answered_in_one_language(ask: Ask) -> None:
    line = FITTING + b"\n"
    answer = ask(
        "POST", "/v1/assessments/batch?lang=de", content=line + line, headers={"content-type": "application/x-ndjson"}
    )
    assert answer.headers["content-language"] == "de"
    lines = [json.loads(each)["assessment"] for each in answer.text.splitlines()]
    assert [each["language"] for each in lines] == ["de", "de"]
    assert lines[0]["actions"][0].startswith("Halt. ")


def test_the_rulebook_and_a_rule_are_shown_in_german(ask: Ask) -> None:
    whole = ask("GET", "/v1/rulebook?lang=de")
    assert (whole.headers["content-language"], whole.json()["title"]) == ("de", DE.title)
    assert whole.json()["digest"] == DE.digest
    rule = ask("GET", "/v1/rulebook/rules/heel-short", headers={"accept-language": "de-CH"})
    assert rule.headers["content-language"] == "de"
    assert rule.json()["finding"] == DE.rules["heel-short"].finding
    assert ask("GET", "/v1/rulebook").json()["title"] != DE.title


# Kept.


def test_what_was_kept_is_in_the_language_in_which_it_was_answered(keeping: Ask) -> None:
    answer = post(keeping, "/v1/assessments?lang=de")
    assert (answer.status_code, answer.headers["content-language"]) == (201, "de")
    again = keeping("GET", answer.headers["location"], headers={"accept-language": "en"})
    assert again.content == answer.content
    assert again.headers["content-language"] == "de"


def test_a_drawing_of_it_speaks_its_language(keeping: Ask) -> None:
    answer = post(keeping, "/v1/assessments?lang=de")
    drawing = keeping("GET", f"{answer.headers['location']}/drawing.svg")
    assert 'lang="de"' in drawing.text
    assert "Nicht beurteilt" in drawing.text


def test_a_request_sent_again_is_answered_as_it_was_the_first_time(keeping: Ask) -> None:
    first = post(keeping, "/v1/assessments?explain=true", Idempotency_Key="once", accept_language="de")
    again = post(keeping, "/v1/assessments?explain=true", Idempotency_Key="once", accept_language="en")
    assert (again.content, again.headers["content-language"]) == (first.content, "de")
    assert again.headers["idempotency-replayed"] == "true"


def test_the_same_key_with_another_lang_is_another_request(keeping: Ask, problem: CheckProblem) -> None:
    assert post(keeping, "/v1/assessments?lang=de", Idempotency_Key="twice").status_code == 201
    problem(post(keeping, "/v1/assessments?lang=en", Idempotency_Key="twice"), "key-reused")


def test_the_pairs_of_a_visit_are_told_in_the_language_asked_for(keeping: Ask) -> None:
    visit = "2026-03-04-H-901"
    body = json.dumps({**json.loads(FITTING), "visit": visit}).encode()
    assert keeping("POST", "/v1/assessments", content=body, headers=JSON).status_code == 201
    told = keeping("GET", f"/v1/visits/{visit}?lang=de")
    assert told.headers["content-language"] == "de"
    says = [each["say"] for pair in told.json()["pairs"] for each in pair["not_compared"]]
    assert "Kein Vorderhuf wurde angesehen." in says or "Kein Hinterhuf wurde angesehen." in says


# The service's own language.


def test_the_setting_names_the_language_where_nothing_is_wished(
    ask_of: Callable[[FastAPI], Ask], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FITCHECK_LANGUAGE", "de")
    ask = ask_of(create_app())
    assert post(ask).headers["content-language"] == "de"
    assert post(ask, accept_language="en-GB").headers["content-language"] == "en"
    assert post(ask, accept_language="*").headers["content-language"] == "de"


def test_a_setting_that_names_no_language_stops_the_service_at_its_start(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FITCHECK_LANGUAGE", "nl")
    with pytest.raises(RulebookError, match=r"Known: en, de"):
        create_app()
