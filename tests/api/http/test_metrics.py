"""What the service counts of itself, read by Prometheus' own parser; the request is counted once it is over."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families

from api.openapi.examples import EXAMPLES
from fitcheck.records import StoreUnavailable
from rules import EngineFault

Ask = Callable[..., httpx.Response]
GOOD = EXAMPLES[0].fitting


@pytest.fixture
def counted(ask: Ask) -> Callable[[], dict[tuple[str, ...], float]]:
    """All samples by name and label values, as a monitor reads them."""

    def read() -> dict[tuple[str, ...], float]:
        response = ask("GET", "/metrics")
        assert response.status_code == 200
        assert response.headers["content-type"].startswith("text/plain; version=")
        return {
            (sample.name, *(value for _, value in sorted(sample.labels.items()))): sample.value
            for family in text_string_to_metric_families(response.text)
            for sample in family.samples
        }

    return read


Counted = Callable[[], dict[tuple[str, ...], float]]


def grown(before: dict[tuple[str, ...], float], after: dict[tuple[str, ...], float], name: str) -> dict[Any, float]:
    return {
        key[1:]: value - before.get(key, 0.0)
        for key, value in after.items()
        if key[0] == name and value != before.get(key, 0.0)
    }


def test_requests_are_counted_by_route_method_and_status_and_never_by_what_a_client_wrote(
    ask: Ask, counted: Counted
) -> None:
    before = counted()
    for _ in range(3):
        ask("GET", "/v1/rulebook/rules/heel-width-tight")
    ask("GET", "/v1/rulebook/rules/no-such-rule")
    ask("GET", "/no/such/address")
    ask("WHATEVER", "/v1/rulebook")
    ask("HEAD", "/v1/rulebook")
    after = counted()
    # Labels in the order of their names: method, route, status.
    assert grown(before, after, "fitcheck_requests_total") == {
        ("GET", "/v1/rulebook/rules/{id}", "200"): 3,
        ("GET", "/v1/rulebook/rules/{id}", "404"): 1,
        ("GET", "(none)", "404"): 1,
        ("(other)", "(none)", "405"): 1,
        ("HEAD", "/v1/rulebook", "200"): 1,
        ("GET", "/metrics", "200"): 1,
    }
    assert grown(before, after, "fitcheck_request_seconds_count")["GET", "/v1/rulebook/rules/{id}"] == 4
    assert 0 < grown(before, after, "fitcheck_request_seconds_sum")["GET", "/v1/rulebook/rules/{id}"] < 10
    for key in after:
        assert "such" not in " ".join(key)


def test_assessments_are_counted_by_decision_lines_of_a_batch_too(ask: Ask, counted: Counted) -> None:
    before = counted()
    decisions = [ask("POST", "/v1/assessments?keep=false", json=each.fitting).json()["decision"] for each in EXAMPLES]
    body = "\n".join([*(json.dumps(each.fitting) for each in EXAMPLES), "{}"])
    ask("POST", "/v1/assessments/batch", content=body, headers={"content-type": "application/x-ndjson"})
    expected = {(decision,): 2.0 * decisions.count(decision) for decision in decisions}
    assert grown(before, counted(), "fitcheck_assessments_total") == expected
    assert len(expected) > 1


def test_what_the_rules_did_not_come_to_an_end_with_is_counted_and_is_no_assessment(
    ask: Ask, counted: Counted, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any) -> None:
        raise EngineFault("lost")

    before = counted()
    monkeypatch.setattr("rules.engine.evaluator.Evaluator.evaluate", fail)
    ask("POST", "/v1/assessments?keep=false", json=GOOD)
    after = counted()
    assert grown(before, after, "fitcheck_engine_faults_total") == {(): 1}
    assert grown(before, after, "fitcheck_assessments_total") == {}


def test_refusals_for_haste_and_errors_of_the_store_are_counted(
    yard: Any, counted: Counted, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any) -> None:
        raise StoreUnavailable

    before = counted()
    headers = yard.bearer("read")
    monkeypatch.setattr("fitcheck.records.keys.AccessKeys.check", fail)
    assert yard.ask("GET", "/v1/rulebook", headers=headers).status_code == 503
    monkeypatch.undo()
    monkeypatch.setattr("api.http.rate_limit.RateLimit.take", lambda *_: 9)
    assert yard.ask("GET", "/v1/rulebook", headers=headers).status_code == 429
    monkeypatch.undo()
    after = counted()
    assert grown(before, after, "fitcheck_store_errors_total") == {("StoreUnavailable",): 1}
    assert grown(before, after, "fitcheck_rate_limited_total") == {(): 1}


def test_nothing_of_a_fitting_or_a_key_is_in_the_counts(yard: Any) -> None:
    headers = yard.bearer("admin")
    yard.ask("POST", "/v1/assessments?keep=false", json=GOOD, headers=headers)
    text = yard.ask("GET", "/metrics", headers=headers).text
    for secret in (headers["authorization"].split()[1], yard.made[0].id, "Low Meadow", "H-101", "A-3"):
        assert secret not in text
