"""A service without keys: it answers the machine that it runs on, and no page and no proxy that would use it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.openapi.examples import EXAMPLES

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
HERE = "http://127.0.0.1:8750"
RULES = f"{HERE}/v1/rulebook"
ASSESS = f"{HERE}/v1/assessments?keep=false"
GOOD = EXAMPLES[0].fitting


@pytest.mark.parametrize(
    "host", ["127.0.0.1:8750", "127.0.0.1", "localhost:8750", "LocalHost", "[::1]:8750", "127.8.9.1"]
)
def test_names_of_the_machine_itself_are_answered(ask: Ask, host: str) -> None:
    assert ask("GET", RULES, headers={"host": host}).status_code == 200
    assert ask("POST", ASSESS, headers={"host": host, "origin": f"http://{host}"}, json=GOOD).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "",
        "low-meadow.test",
        "low-meadow.test:8750",
        "127.0.0.1.low-meadow.test",
        "localhost.low-meadow.test",
        "localhost@low-meadow.test",
        "low-meadow.test/localhost",
        "localhost/",
        "localhost:8750:1",
        "localhost:x",
        "[::1",
        "::1",
        "0.0.0.0:8750",
        "192.0.2.7",
        "2130706433",
        "localhost\t",
        "localhost low-meadow.test",
        "localhost\r\nx-injected: 1",
        b"localhost\xff",
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_page_that_made_its_own_name_stand_for_this_machine_is_refused(
    ask: Ask, problem: CheckProblem, host: str | bytes, method: str
) -> None:
    response = ask(
        method, {"GET": RULES, "POST": ASSESS}[method], headers={"host": host, "content-type": "application/json"}
    )
    [error] = problem(response, "wrong-host")
    assert error["field"] == "header.host"
    assert "x-injected" not in response.headers


def test_two_hosts_are_none(ask: Ask, problem: CheckProblem) -> None:
    problem(ask("GET", RULES, headers=[("host", "localhost"), ("host", "low-meadow.test")]), "wrong-host")


@pytest.mark.parametrize(
    "sent_by",
    [
        {"origin": "http://low-meadow.test"},
        {"origin": "null"},
        {"origin": ""},
        {"origin": "http://127.0.0.1:3000"},
        {"origin": "http://localhost:8750"},
        {"origin": "http://127.0.0.1:8750.low-meadow.test"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://127.0.0.1:8750", "sec-fetch-site": "cross-site"},
    ],
    ids=str,
)
def test_what_a_page_of_another_origin_sends_is_refused_before_it_is_read(
    ask: Ask, problem: CheckProblem, sent_by: dict[str, str]
) -> None:
    problem(ask("POST", ASSESS, headers=sent_by, json=GOOD), "cross-origin")
    batch = sent_by | {"content-type": "application/x-ndjson"}
    problem(ask("POST", f"{HERE}/v1/assessments/batch", headers=batch, content="{}"), "cross-origin")


@pytest.mark.parametrize("content_type", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"])
def test_what_a_page_may_send_without_asking_is_not_read_at_all(
    ask: Ask, problem: CheckProblem, content_type: str
) -> None:
    """The content types that browsers let any page send (Fetch standard, CORS-safelisted request header)."""
    problem(ask("POST", ASSESS, headers={"content-type": content_type}, content="{}"), "unsupported-media-type")


def test_a_program_or_a_page_of_the_service_itself_is_answered(ask: Ask) -> None:
    for sent_by in ({}, {"sec-fetch-site": "none"}, {"origin": HERE, "sec-fetch-site": "same-origin"}):
        assert ask("POST", ASSESS, headers=sent_by, json=GOOD).status_code == 200


def test_a_page_of_another_origin_may_ask_but_gets_no_leave_to_read(ask: Ask) -> None:
    response = ask("GET", RULES, headers={"origin": "http://low-meadow.test"})
    assert response.headers["cross-origin-resource-policy"] == "same-origin"
    assert [name for name in response.headers if name.startswith("access-control")] == []


@pytest.mark.parametrize("header", ["x-forwarded-for", "x-forwarded-host", "forwarded", "x-real-ip"])
def test_what_comes_through_a_proxy_needs_a_key(ask: Ask, problem: CheckProblem, header: str) -> None:
    problem(ask("GET", RULES, headers={header: "127.0.0.1"}), "unauthorized")


@pytest.mark.parametrize("address", ["192.0.2.7", "[2001:db8::7]", "low-meadow.test"])
def test_whoever_reaches_another_address_of_the_machine_needs_a_key_whatever_host_is_asked_for(
    ask: Ask, problem: CheckProblem, address: str
) -> None:
    problem(ask("GET", f"http://{address}:8750/v1/rulebook", headers={"host": "localhost"}), "unauthorized")


def test_the_first_key_closes_a_service_that_was_open_and_for_good(
    yard_with: Any, tmp_path: Path, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    # test_key_checks says for how long what was found is remembered.
    monkeypatch.setattr("api.http.key_cache.REMEMBERED_S", 0.0)
    yard = yard_with(tmp_path, keys_required=False)
    assert yard.ask("GET", RULES).status_code == 200
    headers = yard.bearer("read")
    problem(yard.ask("GET", RULES), "unauthorized")
    assert yard.ask("GET", RULES, headers=headers).status_code == 200
    # From then on it is for the key to say who sends, so the name that is asked for says nothing.
    assert yard.ask("GET", "/v1/rulebook", headers=headers | {"host": "low-meadow.test"}).status_code == 200
    yard.keys.revoke(yard.made[0].id)
    problem(yard.ask("GET", RULES), "unauthorized")
    problem(yard.ask("GET", RULES, headers=headers), "unauthorized")
    yard.store.close()
